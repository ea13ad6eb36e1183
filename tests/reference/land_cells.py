"""Whose land each cell is, by the polygons of parcels and roads."""

import numpy as np
import shapely

# A centre exactly on a boundary belongs to the polygon east of it or, on an east-west boundary, south of it: the program's own
# rule. Metres, far below any survey and far above the rounding of map coordinates.
NUDGE_EAST_M, NUDGE_SOUTH_M = 1e-5, 1e-7


def cells_by_party(rasters, parties):
    """For each cell the number of the first party whose polygon holds its centre; `len(parties)` where none does."""
    rows, cols = rasters.ground.shape
    transform = rasters.transform
    x = transform.c + (np.arange(cols) + 0.5) * transform.a + NUDGE_EAST_M
    y = transform.f + (np.arange(rows) + 0.5) * transform.e - NUDGE_SOUTH_M
    owner = np.full((rows, cols), len(parties))
    for number, polygon in enumerate(parties):
        west, south, east, north = polygon.bounds
        col, row = np.flatnonzero((x >= west) & (x <= east)), np.flatnonzero((y >= south) & (y <= north))
        if col.size and row.size:
            window = np.ix_(row, col)
            shapely.prepare(polygon)
            inside = shapely.contains_xy(polygon, *np.meshgrid(x[col], y[row]))
            owner[window] = np.where(inside & (owner[window] == len(parties)), number, owner[window])
    return owner


def nearest_owner(owner, unowned, step, most):
    """For each cell the first owner met in at most `most` steps, and how many steps; `unowned` and a large number if none."""
    rows, cols = owner.shape
    found, steps = np.full(owner.shape, unowned), np.full(owner.shape, 2 * most + 2)
    for count in range(1, most + 1):
        down, right = count * step[0], count * step[1]
        padded = np.pad(owner, count, constant_values=unowned)
        there = padded[count + down : count + down + rows, count + right : count + right + cols]
        new = (found == unowned) & (there != unowned)
        found[new], steps[new] = there[new], count
    return found, steps


def close_gaps(owner, unowned, across, down):
    """Unowned cells in a gap of at most `across` cells in a row between owned land go to the land on the west; else those in a
    gap of at most `down` cells in a column to the land on the north: the program's stated rule for gaps within the accuracy of
    boundaries."""
    closed = owner.copy()
    for before, after, most in (((-1, 0), (1, 0), down), ((0, -1), (0, 1), across)):
        # The row comes last, so that it goes before the column.
        label, steps_before = nearest_owner(owner, unowned, before, most)
        _, steps_after = nearest_owner(owner, unowned, after, most)
        gap = (owner == unowned) & (steps_before + steps_after - 1 <= most)
        closed[gap] = label[gap]
    return closed
