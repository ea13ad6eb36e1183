"""Lakes and wide rivers of the small cases, mapped as polygons.

Their shores run along rows and columns, 0.42 or 0.7 cells beyond a border of cells: so no shore passes through a cell's centre, and
none runs beside a lot line within the tolerance of frontage and the accuracy of boundaries together. They lie over lot lines, over
waterways and over one another, at holes of the elevation and beyond its edge; some have an island, some are mapped in two parts.
"""

import numpy as np
import shapely

SHORES = (0.42, 0.7)
BOWL_CELLS, BOWL_M = 1.5, 5.0
CLASSES = ("lake", "lake", "natural_watercourse")


def waters(rng, ground):
    """(id, class, polygons) of each; those of one id are parts of one waterway, which share no more than a shore."""
    rows, cols = ground.shape
    found = []
    for number in range(rng.integers(1, 4)):
        shape = SHAPES[rng.choice(len(SHAPES), p=WEIGHTS)](rng, rows, cols, ground)
        # Before or after the ids of lines.
        id = f"{rng.choice(['L', 'X'])}{number}"
        found.append((id, str(rng.choice(CLASSES)), shape))
    if rng.random() < 0.25:
        beside = touching(rng, found[0][2][0])
        found.append((f"T{len(found)}", str(rng.choice(CLASSES)), [beside]))
    return found


def in_bowl(rng, ground):
    """A small water in the middle, for which the ground at it and beside it is lowered: its water stays unless something leads it
    out."""
    rows, cols = ground.shape
    west, south = cols // 2 - int(rng.integers(1, 3)), rows // 2 - int(rng.integers(1, 3))
    polygon = shapely.box(west + 0.42, south + 0.42, west + rng.integers(1, 3) + 0.42, south + rng.integers(1, 3) + 0.42)
    around = polygon.buffer(BOWL_CELLS)
    for row, col in np.ndindex(rows, cols):
        if around.contains(shapely.Point(col + 0.5, rows - row - 0.5)):
            ground[row, col] -= BOWL_M
    return "C0", str(rng.choice(CLASSES)), [polygon]


def box(rng, rows, cols, most=6):
    west, south = int(rng.integers(-1, cols)), int(rng.integers(-1, rows))
    wide, high = rng.integers(1, most, 2)
    off = rng.choice(SHORES, 4)
    return shapely.box(west + off[0], south + off[1], west + wide + off[2], south + high + off[3])


def lake(rng, rows, cols, _):
    """Of one rectangle or two that overlap."""
    first = box(rng, rows, cols)
    second = box(rng, rows, cols)
    return [shapely.union(first, second)] if rng.random() < 0.5 and first.intersection(second).area > 0.5 else [first]


def with_island(rng, rows, cols, _):
    west, south = int(rng.integers(0, max(1, cols - 6))), int(rng.integers(0, max(1, rows - 6)))
    outer = shapely.box(west + 0.42, south + 0.42, west + 5.42, south + 5.42)
    inner = shapely.box(west + 1.7, south + 1.7, west + 3.42 + rng.integers(0, 2), south + 3.7)
    return [outer.difference(inner)]


def in_two_parts(rng, rows, cols, _):
    """As where a lake lies over two sheets of a map: the parts share a shore."""
    whole = box(rng, rows, cols, 8)
    west, south, east, north = whole.bounds
    at = np.floor((west + east) / 2.0) + 0.42
    if not west + 0.5 < at < east - 0.5:
        return [whole]
    return [shapely.box(west, south, at, north), shapely.box(at, south, east, north)]


def river(rng, rows, cols, _):
    """A band from edge to edge, with a bend."""
    row, bend, width = int(rng.integers(0, rows - 1)), int(rng.integers(1, cols)), int(rng.integers(1, 3))
    across = shapely.box(-0.58, row + 0.42, bend + 1.42, row + width + 0.42)
    down = shapely.box(bend - width + 1.42, -0.58, bend + 1.42, row + width + 0.42)
    return [shapely.union(across, down)]


def pond(rng, rows, cols, _):
    """Too small to hold the centre of a cell."""
    west, south = int(rng.integers(0, cols)), int(rng.integers(0, rows))
    return [shapely.box(west + 0.56, south + 0.42, west + 0.75, south + 0.75)]


def at_hole(rng, rows, cols, ground):
    """Over a place without elevation, where there is one: lidar has none on water."""
    missing = np.argwhere(np.isnan(ground))
    if not len(missing):
        return lake(rng, rows, cols, ground)
    row, col = missing[rng.integers(len(missing))]
    west, south = col - rng.integers(0, 3), rows - row - 1 - rng.integers(0, 3)
    return [shapely.box(west + 0.42, south + 0.42, west + rng.integers(1, 5) + 0.7, south + rng.integers(1, 5) + 0.7)]


def touching(rng, polygon):
    """On the east of another water."""
    _, south, east, north = polygon.bounds
    return shapely.box(east, south, east + rng.integers(1, 4), north)


SHAPES = (lake, with_island, in_two_parts, river, pond, at_hole)
WEIGHTS = (0.4, 0.12, 0.13, 0.15, 0.05, 0.15)
