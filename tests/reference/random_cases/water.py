"""Waterways and structures of a random case: lines that cross, loop, double back, follow lot lines, end in the middle and share
cells with one another; culverts and pipes that begin in channels, end in them, and follow one another."""

import numpy as np
import shapely
import shapely.affinity
import shapely.ops

from random_cases.case import Structure, Waterway

OFTEN = ("natural_watercourse", "municipal_drain", "mutual_agreement_drain")
# Ends of pipes within this distance of another's beginning are joined (the program's stated reach for loops of pipes).
JOINED_M = 3.0
MATERIALS = ("corrugated plastic", "clay", "concrete", "corrugated steel")


def waterways(rng, grid, ground_m, lots, classes):
    found = []
    for number in range(rng.choice([0, 2, 3, 4, 5, 6], p=[0.05, 0.2, 0.25, 0.25, 0.15, 0.1])):
        draw = SHAPES[rng.choice(len(SHAPES), p=WEIGHTS)]
        lines = [line for line in draw(rng, grid, ground_m, lots, found) if line.length > 0.0]
        if not any(line.intersects(grid.box) for line in lines):
            continue
        kind = str(rng.choice(OFTEN if rng.random() < 0.6 else classes))
        way = Waterway(f"W{number}", kind, lines)
        if rng.random() < 0.3:
            way.width_m = float(rng.choice([0.0, 1.5, 6.0, 2.5 * grid.least]))
        if rng.random() < 0.8 and lots:
            ids = list(lots)
            way.parties = [str(id) for id in rng.choice(ids, rng.integers(1, len(ids) + 1), replace=False)]
            way.registered = [None, True, False][rng.integers(3)]
            way.agreed = [None, "1987", "2004-05", "2011-03-09"][rng.integers(4)]
        found.append(way)
    return found


def polyline(rng, grid, points):
    return shapely.LineString([np.round(grid.at(*point), 3) for point in points])


def free(rng, grid, *_):
    """Corners anywhere, outside the elevation too."""
    rows, cols = grid.shape
    count = rng.integers(2, 6)
    return [polyline(rng, grid, zip(rng.uniform(-2, cols + 2, count), rng.uniform(-2, rows + 2, count), strict=True))]


def wandering(rng, grid, ground_m, *_):
    """From cell centre to cell centre along rows and columns."""
    row, col = rng.integers(grid.shape[0]), rng.integers(grid.shape[1])
    down, right = ((0, 1), (1, 0), (0, -1), (-1, 0))[rng.integers(4)]
    cells = [(row, col)]
    for _ in range(rng.integers(4, 30)):
        if rng.random() < 0.3:
            down, right = ((right, down), (-right, -down))[rng.integers(2)] if rng.random() < 0.9 else (-down, -right)
        row, col = cells[-1][0] + down, cells[-1][1] + right
        if not grid.holds(row, col):
            break
        cells.append((row, col))
    if len(cells) < 2:
        return []
    return [shapely.LineString([grid.centre(*cell) for cell in cells])]


def down_hill(rng, grid, ground_m, *_):
    row, col = int(rng.integers(grid.shape[0])), int(rng.integers(grid.shape[1]))
    cells = []
    while not np.isnan(ground_m[row, col]) and (row, col) not in cells:
        cells.append((row, col))
        around = [(row + down, col + right) for down in (-1, 0, 1) for right in (-1, 0, 1)]
        around = [cell for cell in around if grid.holds(*cell) and not np.isnan(ground_m[cell])]
        row, col = min(around, key=lambda cell: (ground_m[cell], cell))
    if len(cells) < 2:
        return []
    return [shapely.LineString([grid.centre(*cell) for cell in cells])]


def loop(rng, grid, *_):
    """A ring back to where it begins."""
    rows, cols = grid.shape
    col, row = rng.uniform(2, cols - 2), rng.uniform(2, rows - 2)
    turns = np.linspace(0.0, 2.0 * np.pi, rng.integers(4, 9))[:-1]
    reach = rng.uniform(1.0, min(rows, cols) / 3.0)
    points = [(col + reach * np.cos(turn), row + reach * np.sin(turn)) for turn in turns]
    return [polyline(rng, grid, [*points, points[0]])]


def doubling_back(rng, grid, *_):
    """There and back, a little beside."""
    rows, cols = grid.shape
    there = [(rng.uniform(0, cols), rng.uniform(0, rows)) for _ in range(3)]
    off = rng.choice([0.0, 0.3, 1.2])
    return [polyline(rng, grid, [*there, *[(col + off, row + off) for col, row in there[-2::-1]]])]


def on_lot_lines(rng, grid, ground_m, lots, _):
    """Along a part of the boundary of a lot."""
    if not lots:
        return []
    lot = list(lots.values())[rng.integers(len(lots))]
    ring = shapely.get_parts(lot)[0].exterior
    begin, end = np.sort(rng.uniform(0.0, ring.length, 2))
    line = shapely.ops.substring(ring, begin, end)
    return [line.reverse() if rng.random() < 0.5 else line] if line.geom_type == "LineString" else []


def beside_another(rng, grid, ground_m, lots, found):
    """The same channel as another waterway once more, or a parallel one."""
    if not found:
        return free(rng, grid)
    line = found[rng.integers(len(found))].lines[0]
    begin, end = np.sort(rng.uniform(0.0, line.length, 2)) if rng.random() < 0.6 else (0.0, line.length)
    part = shapely.ops.substring(line, begin, end)
    if part.geom_type != "LineString":
        return []
    off = grid.least * rng.choice([0.0, 0.0, 0.3, 0.8, 1.5])
    part = shapely.affinity.translate(part, off, off)
    return [part.reverse() if rng.random() < 0.3 else part]


def into_another(rng, grid, ground_m, lots, found):
    """Ends on a corner of another waterway, or between two of them."""
    if not found:
        return free(rng, grid)
    line = found[rng.integers(len(found))].lines[0]
    end = line.coords[int(rng.integers(len(line.coords)))] if rng.random() < 0.6 else line.interpolate(rng.random(), normalized=True).coords[0]
    rows, cols = grid.shape
    begin = grid.at(rng.uniform(0, cols), rng.uniform(0, rows))
    middle = grid.at(rng.uniform(0, cols), rng.uniform(0, rows))
    points = [begin, middle, end] if rng.random() < 0.5 else [begin, end]
    return [shapely.LineString(points if rng.random() < 0.85 else points[::-1])]


def in_parts(rng, grid, ground_m, lots, found):
    """One waterway of several lines."""
    return wandering(rng, grid, ground_m) + free(rng, grid) + (down_hill(rng, grid, ground_m) if rng.random() < 0.5 else [])


SHAPES = (free, wandering, down_hill, loop, doubling_back, on_lot_lines, beside_another, into_another, in_parts)
WEIGHTS = (0.13, 0.14, 0.14, 0.06, 0.06, 0.1, 0.18, 0.14, 0.05)


def structures(rng, grid, ground_m, waterways, classes):
    found = []
    for number in range(rng.choice([0, 2, 3, 5, 7], p=[0.15, 0.3, 0.25, 0.2, 0.1])):
        begin = beginning(rng, grid, waterways, found)
        end = ending(rng, grid, begin, waterways)
        cells = grid.row_col(*begin), grid.row_col(*end)
        if cells[0] == cells[1] or not all(grid.holds(*cell) for cell in cells):
            continue
        is_culvert = rng.random() < 0.5
        line = shapely.LineString([begin, end])
        if not is_culvert and would_loop(found, line):
            continue
        kind = "culvert" if is_culvert else str(rng.choice(["", "municipal_drain", *classes]))
        structure = Structure(f"S{number}", kind, line, None, sizes(rng))
        levels = [ground_m[cell] for cell in cells]
        if (is_culvert or rng.random() < 0.4) and not np.isnan(levels).any():
            # One whose ends lie at one level must have inverts, else nothing says which way it runs.
            down = min(levels) - rng.uniform(0.3, 1.5)
            structure.inverts = round(float(down + rng.uniform(0.05, 0.8)), 2), round(float(down), 2)
        elif is_culvert:
            structure.inverts = 1.0, 0.5
        found.append(structure)
    return found


def beginning(rng, grid, waterways, found):
    kind = rng.random()
    if kind < 0.45 and waterways:
        line = waterways[rng.integers(len(waterways))].lines[0]
        return line.interpolate(rng.random(), normalized=True).coords[0]
    if kind < 0.6 and found:
        return found[rng.integers(len(found))].line.coords[-1]
    return grid.centre(rng.integers(grid.shape[0]), rng.integers(grid.shape[1]))


def ending(rng, grid, begin, waterways):
    if rng.random() < 0.3 and waterways:
        line = waterways[rng.integers(len(waterways))].lines[0]
        return line.interpolate(rng.random(), normalized=True).coords[0]
    row, col = grid.row_col(*begin)
    return grid.centre(row + rng.integers(-6, 7), col + rng.integers(-6, 7))


def would_loop(found, line):
    """Pipes that lead back into themselves are refused."""
    begin, end = map(shapely.Point, (line.coords[0], line.coords[-1]))
    pipes = [structure.line for structure in found if structure.kind != "culvert"]
    return begin.distance(end) <= JOINED_M or any(end.distance(shapely.Point(pipe.coords[0])) <= JOINED_M for pipe in pipes)


def sizes(rng):
    if rng.random() < 0.4:
        return {}
    return {
        "diameter_mm": float(rng.choice([300.0, 450.0, 600.0, 1200.0])),
        "material": str(rng.choice(MATERIALS)),
        "grade_percent": round(float(rng.uniform(0.05, 2.0)), 2) if rng.random() < 0.5 else None,
    }
