"""Following the water from cell to cell, by the exported directions and links alone.

Codes 1 to 8 are those of WMO-No. 306, code table 0700 (1 NE, then clockwise to 8 N); 0 ends here, 10 is carried by a
structure, 255 has no elevation.
"""

import numpy as np
import pandas as pd
import rasterio

# Column and row steps of the codes; rows count southwards.
STEPS = {1: (1, -1), 2: (1, 0), 3: (1, 1), 4: (0, 1), 5: (-1, 1), 6: (-1, 0), 7: (-1, -1), 8: (0, -1)}


def receivers(direction, links):
    """For each cell the flat index of the cell that takes its water; where the path ends, its own."""
    receiver = np.arange(direction.size)
    codes, cols = direction.ravel(), direction.shape[1]
    for code, (east, south) in STEPS.items():
        receiver[codes == code] += south * cols + east
    for (col, row), (to_col, to_row) in zip(links["inlet_cell"], links["outlet_cell"], strict=True):
        if direction[row, col] == 10:
            receiver[row * cols + col] = to_row * cols + to_col
    return receiver


def first_met(receiver, marks):
    """The mark that each cell's water meets first; 0 where it meets none. `marks` holds one number for each cell."""
    marks = marks.ravel()
    at = np.where(marks > 0, np.arange(receiver.size), receiver)
    while True:  # each round doubles the steps taken
        further = at[at]
        if np.array_equal(further, at):
            return marks[at]
        at = further


def on_reaches(reaches, numbers, shape, transform):
    """The raster of the reaches' cells, each with the number of its reach; 0 elsewhere.

    Their lines have a vertex in every cell. The last one is the first of what follows, unless the water leaves the data
    there.
    """
    marks = np.zeros(shape, dtype=np.int32)
    for line, follows, number in zip(reaches.geometry, reaches["to_reach"], numbers, strict=True):
        x, y = np.array(line.coords if pd.isna(follows) else line.coords[:-1]).T
        rows, cols = rasterio.transform.rowcol(transform, x, y)
        marks[rows, cols] = number
    return marks
