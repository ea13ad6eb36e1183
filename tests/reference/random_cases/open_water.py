"""Lakes and wide rivers of a random case, mapped as polygons: over lot lines and lines of waterways, over the edge of the elevation and
its holes, with islands, in two that touch. No two overlap, and no shore lies on a cell's centre."""

import numpy as np
import shapely
import shapely.affinity

from random_cases.case import Waterway

KINDS = ("lake", "lake", "natural_watercourse")


def waters(rng, grid, ground_m, lots):
    found = []
    for number in range(rng.integers(1, 4)):
        draw = SHAPES[rng.choice(len(SHAPES), p=WEIGHTS)]
        taken = shapely.union_all([polygon for way in found for polygon in way.polygons])
        shape = draw(rng, grid, ground_m, taken).difference(taken)
        parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0.01]
        if not parts or not shape.intersects(grid.box):
            continue
        way = Waterway(f"{rng.choice(['L', 'X'])}{number}", str(rng.choice(KINDS)), [], polygons=parts)
        if rng.random() < 0.6 and lots:
            way.parties = [str(id) for id in rng.choice(list(lots), rng.integers(1, len(lots) + 1), replace=False)]
        found.append(way)
    return found


def polygon(grid, points):
    return shapely.make_valid(shapely.Polygon([np.round(grid.at(*point), 3) for point in points])).buffer(0.0)


def round_about(rng, grid, col, row, most):
    """A water with some corners about a place, in cells."""
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, rng.integers(5, 10)))
    reach = rng.uniform(0.4, most, turns.size)
    return polygon(grid, [(col + far * np.cos(turn), row + far * np.sin(turn)) for turn, far in zip(turns, reach, strict=True)])


def lake(rng, grid, *_):
    """Anywhere, over the edge of the elevation too."""
    rows, cols = grid.shape
    return round_about(rng, grid, rng.uniform(-1.0, cols + 1.0), rng.uniform(-1.0, rows + 1.0), min(rows, cols) / 3.0)


def with_island(rng, grid, *_):
    rows, cols = grid.shape
    col, row, reach = rng.uniform(0.0, cols), rng.uniform(0.0, rows), rng.uniform(2.5, 5.0)
    around = [(col + reach * east, row + reach * south) for east, south in ((-1, -1.1), (1.2, -1), (1, 1), (-0.9, 1.2))]
    return polygon(grid, around).difference(round_about(rng, grid, col, row, reach / 2.0))


def at_hole(rng, grid, ground_m, _):
    missing = np.argwhere(np.isnan(ground_m))
    if not len(missing):
        return lake(rng, grid)
    row, col = missing[rng.integers(len(missing))]
    return round_about(rng, grid, col + 0.53, row + 0.53, 4.0)


def river(rng, grid, *_):
    """A band from side to side, wider than a cell."""
    rows, cols = grid.shape
    points = [(-1.0, rng.uniform(0, rows)), (rng.uniform(0, cols), rng.uniform(0, rows)), (cols + 1.0, rng.uniform(0, rows))]
    line = shapely.LineString([grid.at(*point) for point in points])
    return line.buffer(grid.least * rng.uniform(0.6, 1.7), cap_style="flat", join_style="mitre")


def touching(rng, grid, ground_m, taken):
    """Beside another water: they share a shore."""
    if taken.is_empty:
        return lake(rng, grid)
    west, south, east, north = taken.bounds
    return shapely.affinity.translate(shapely.box(west, south, east, north), (east - west) * rng.uniform(0.3, 0.8), 0.0)


SHAPES = (lake, with_island, at_hole, river, touching)
WEIGHTS = (0.35, 0.15, 0.15, 0.2, 0.15)
