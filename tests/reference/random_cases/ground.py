"""Ground of a random case: pits, flats, steps, holes and missing edges, in metres or feet, as one raster or several."""

import numpy as np

import terrains
from random_cases.case import Grid

# Projected systems in metres from four parts of the world; the corners are made up.
SYSTEMS = {
    "EPSG:26917": (500_000.0, 4_800_000.0),
    "EPSG:26915": (431_204.5, 4_650_310.25),
    "EPSG:32614": (612_000.0, 5_530_000.0),
    "EPSG:2193": (1_570_000.0, 5_180_000.0),
}
CELLS_M = ((10.0, 10.0), (5.0, 5.0), (2.0, 2.0), (8.0, 5.0), (12.5, 20.0))
KINDS = (terrains.rough, terrains.rolling, terrains.stepped, terrains.terraced)


def grid(rng):
    crs = str(rng.choice(list(SYSTEMS)))
    west, north = SYSTEMS[crs]
    shape = tuple(int(side) for side in rng.integers(8, 24 if rng.random() < 0.8 else 41, 2))
    return Grid(shape, CELLS_M[rng.integers(len(CELLS_M))], west, north, crs)


def ground(rng, shape):
    """Heights in metres, NaN where there is none."""
    heights = KINDS[rng.integers(len(KINDS))](rng, shape)
    if rng.random() < 0.3:
        heights = with_flats(rng, heights)
    if rng.random() < 0.3:
        heights = with_pits(rng, heights)
    if rng.random() < 0.25:
        heights = terrains.with_holes(rng, heights)
    if rng.random() < 0.15:
        heights = with_missing_corner(rng, heights)
    if np.isnan(heights).all():
        heights[0, 0] = 100.0
    return heights


def with_flats(rng, heights):
    heights = heights.copy()
    for _ in range(rng.integers(1, 4)):
        row, col = rng.integers(heights.shape[0]), rng.integers(heights.shape[1])
        part = heights[row : row + rng.integers(2, 8), col : col + rng.integers(2, 8)]
        part[:] = np.median(part)
    return heights


def with_pits(rng, heights):
    heights = heights.copy()
    for _ in range(rng.integers(1, 6)):
        row, col = rng.integers(heights.shape[0]), rng.integers(heights.shape[1])
        heights[row : row + rng.integers(1, 4), col : col + rng.integers(1, 4)] -= rng.uniform(0.2, 2.0)
    return heights


def with_missing_corner(rng, heights):
    """Beyond a slanted line nothing was surveyed."""
    rows, cols = np.indices(heights.shape)
    beyond = rows / heights.shape[0] + cols / heights.shape[1] < rng.uniform(0.1, 0.5)
    return np.where(beyond, np.nan, heights)


def stored(rng, heights_m):
    """Heights in a random unit and type as a file can hold them; returns them with the unit and how they are stored."""
    unit = str(rng.choice(["m", "m", "ft", "us-ft"]))
    heights = heights_m / {"m": 1.0, "ft": 0.3048, "us-ft": 1200.0 / 3937.0}[unit]
    kind = rng.random()
    if kind < 0.15:
        dtype, nodata, heights = "int16", -32768, np.round(heights)
    elif kind < 0.3:
        dtype, nodata, heights = "float32", np.nan, np.round(heights * 10.0) / 10.0
    elif kind < 0.4:
        dtype, nodata = "float64", -9999.0
    else:
        dtype, nodata = "float32", float(rng.choice([-9999.0, -32768.0]))
    tiles = (int(rng.integers(1, 3)), int(rng.integers(1, 3))) if rng.random() < 0.3 else (1, 1)
    # What a file of single precision holds is what the program reads.
    heights = heights.astype(np.float32 if dtype == "float32" else np.float64)
    return heights.astype(np.float64), unit, {"dtype": dtype, "nodata": nodata, "tiles": tiles}
