"""Where each cell's water goes, read from the exported directions and links.

Directions are those of WMO-No. 306, code table 0700: 1 NE, 2 E, 3 SE, 4 S, 5 SW, 6 W, 7 NW, 8 N. The program adds 0 (the path
ends here), 10 (carried by a structure) and 255 (nodata).
"""

import numpy as np
from scipy import sparse

ENDS_HERE, CARRIED, NODATA = 0, 10, 255
# Row and column steps of codes 1 to 8; rows count southwards.
STEPS = {1: (-1, 1), 2: (0, 1), 3: (1, 1), 4: (1, 0), 5: (1, -1), 6: (0, -1), 7: (-1, -1), 8: (-1, 0)}


def receivers(direction, links=()):
    """For each cell, the flat index of the cell that takes its water; -1 where the path ends and at nodata.

    `links` are GeoJSON features with the properties `inlet_cell` and `outlet_cell`, each `[col, row]`.
    """
    rows, cols = np.indices(direction.shape)
    receiver = np.full(direction.shape, -1, dtype=np.int64)
    for code, (down, right) in STEPS.items():
        here = direction == code
        row, col = rows[here] + down, cols[here] + right
        inside = (row >= 0) & (row < direction.shape[0]) & (col >= 0) & (col < direction.shape[1])
        assert inside.all(), f"direction {code} leaves the raster at {(~inside).sum()} cells"
        receiver[here] = row * direction.shape[1] + col
    for link in links:
        (inlet_col, inlet_row), (col, row) = link["properties"]["inlet_cell"], link["properties"]["outlet_cell"]
        if direction[inlet_row, inlet_col] == CARRIED:
            receiver[inlet_row, inlet_col] = row * direction.shape[1] + col
    lost = (direction == CARRIED) & (receiver < 0)
    assert not lost.any(), f"{lost.sum()} cells are carried by a structure that no link names"
    return receiver.ravel()


def matrix(receiver):
    """Adjacency: entry (i, j) is 1 where cell i drains to cell j."""
    giving = np.flatnonzero(receiver >= 0)
    ones = np.ones(giving.size)
    return sparse.csr_matrix((ones, (giving, receiver[giving])), shape=(receiver.size, receiver.size))


def beside_nodata_or_edge(valid):
    """Cells with fewer than eight valid neighbours."""
    padded = np.pad(valid, 1, constant_values=False)
    rows, cols = valid.shape
    surrounded = np.ones(valid.shape, dtype=bool)
    for down, right in STEPS.values():
        surrounded &= padded[1 + down : 1 + down + rows, 1 + right : 1 + right + cols]
    return valid & ~surrounded
