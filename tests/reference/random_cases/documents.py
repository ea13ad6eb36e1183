"""Documents of a random case: schedules, surveyed levels, cross-sections."""

import numpy as np

DATUM = "CGVD2013"


def schedule(rng, lots, roads):
    """Assessed hectares by parcel and road: less than it has, as much, or more."""
    assessed = {road.id: 0.5 for road in roads if road.id is not None and rng.random() < 0.5}
    for id, lot in lots.items():
        if rng.random() < 0.6:
            assessed[id] = round(float(lot.area / 10_000.0 * rng.choice([0.02, 0.3, 0.95, 1.0, 2.0])), 4)
    if rng.random() < 0.1:
        assessed["nobody"] = 1.0
    return assessed


def level(feature, at, kind, level_m):
    return {"feature": feature, "x": at[0], "y": at[1], "kind": kind, "level_m": round(float(level_m), 3), "date": "2021-06", "datum": DATUM}


def levels(rng, grid, ground_m, waterways, structures):
    """Beds and water along lines, inverts at both ends; none where there is no ground."""
    rows = []
    for way in waterways:
        if rng.random() < 0.4:
            for part in rng.random(rng.integers(1, 4)):
                at = way.lines[0].interpolate(part, normalized=True).coords[0]
                if (ground := ground_at(grid, ground_m, at)) is not None:
                    kind = "water" if rng.random() < 0.2 else "bed"
                    rows.append(level(way.id, at, kind, ground - rng.uniform(0.0, 1.5)))
    for structure in structures:
        ends = structure.line.coords[0], structure.line.coords[-1]
        grounds = [ground_at(grid, ground_m, end) for end in ends]
        if rng.random() < 0.3 and None not in grounds:
            down = min(grounds) - rng.uniform(0.2, 1.0)
            rows += [level(structure.id, ends[0], "invert", down + 0.1), level(structure.id, ends[1], "invert", down)]
    return rows


def sections(rng, grid, ground_m, waterways):
    rows = []
    for way in waterways:
        for kind in ("design", "present"):
            at = way.lines[0].interpolate(rng.random(), normalized=True).coords[0]
            ground = ground_at(grid, ground_m, at)
            if ground is None or rng.random() < 0.5:
                continue
            row = {"drain": way.id, "x": at[0], "y": at[1], "kind": kind, "bed_m": round(float(ground - 1.0), 2), "datum": DATUM}
            if rng.random() < 0.7:
                row |= {"bottom_m": 1.0, "side_slope": 1.5, "depth_m": 1.2}
            else:
                row |= {"points": "0:101.2 1.5:100.1 3:100.0 5:101.3"}
            row |= {"n": 0.035} if rng.random() < 0.5 else {}
            row |= {"grade_percent": 0.2} if rng.random() < 0.5 else {}
            rows.append(row)
    return rows


def ground_at(grid, ground_m, at):
    row, col = grid.row_col(*at)
    return float(ground_m[row, col]) if grid.holds(row, col) and not np.isnan(ground_m[row, col]) else None
