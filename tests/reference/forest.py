"""Invented rough ground as lidar has it under trees: hollows inside hollows, pits and mounds of fallen trees, noise. No culvert lies
in it; a graded track without an embankment crosses it. Every figure is our choice.
"""

import numpy as np
import shapely
from scipy import ndimage

import rasters
from terrains import Terrain

SIZE_M = 600
# Sigma in metres, standard deviation in metres.
HOLLOWS = [(60.0, 0.8), (25.0, 0.4), (10.0, 0.18), (4.0, 0.12)]
FALLEN_TREES_PER_M2 = 0.004
NOISE_M = 0.06
TRACK_HALF_M = 3.5


def hollows(rng, shape, sigma, deviation):
    noise = ndimage.gaussian_filter(rng.normal(size=shape), sigma, mode="wrap")
    return deviation * noise / noise.std()


def fallen_tree(rng, ground):
    """A pit, and the mound of what it held beside it."""
    x, y = rng.uniform(0.0, SIZE_M, 2)
    turn, radius, height = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.8, 1.7), rng.uniform(0.2, 0.7)
    for sign, away in ((-1.0, 0.0), (1.0, 1.5 * radius + 1.0)):
        at_x, at_y = x + away * np.cos(turn), y + away * np.sin(turn)
        rows = slice(max(0, int(at_y) - 8), max(0, int(at_y) + 9))
        cols = slice(max(0, int(at_x) - 8), max(0, int(at_x) + 9))
        around = ground[rows, cols]
        row, col = np.indices(around.shape)
        away_2 = (col + cols.start + 0.5 - at_x) ** 2 + (row + rows.start + 0.5 - at_y) ** 2
        around += sign * height * np.exp(-away_2 / (2.0 * radius**2))


def forest(seed):
    """The terrain, and the track as a polygon."""
    rng = np.random.default_rng([seed, 409])
    rows, cols = np.indices((SIZE_M, SIZE_M))
    x, y = cols + 0.5, rows + 0.5
    ground = 200.0 - rng.uniform(0.004, 0.02) * y
    for sigma, deviation in HOLLOWS:
        ground += hollows(rng, x.shape, sigma, deviation)
    for _ in range(int(SIZE_M**2 * FALLEN_TREES_PER_M2)):
        fallen_tree(rng, ground)
    ground += rng.normal(0.0, NOISE_M, ground.shape)
    middle, turn = SIZE_M / 2.0 + rng.uniform(-60.0, 60.0), rng.uniform(-0.3, 0.3)
    off = np.abs(y - middle - turn * (x - SIZE_M / 2.0)) * np.cos(np.arctan(turn))
    graded = np.clip((TRACK_HALF_M + 1.0 - off) / 2.0, 0.0, 1.0)
    ground = ground * (1.0 - graded) + ndimage.gaussian_filter(ground, 6.0) * graded
    ends = [(0.0, middle - turn * SIZE_M / 2.0), (SIZE_M, middle + turn * SIZE_M / 2.0)]
    line = shapely.LineString([(rasters.WEST + east, rasters.NORTH - south) for east, south in ends])
    terrain = Terrain(f"forest-{seed}", ground.astype(np.float32), (1.0, 1.0))
    return terrain, line.buffer(TRACK_HALF_M, cap_style="flat")
