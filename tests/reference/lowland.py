"""Invented lidar-like lowland: ditches, roads on embankments, and the culverts under them, which the ground does not show.

Land falls to one side; ditches run down it, roads cross them. A side ditch on the upper side of every road leads what arrives
between two ditches to the nearer culvert, so that water needs no other way under the road. Broad hollows, spoil banks and the
noise of a survey are there to be mistaken for roads. Every figure is our choice.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

import rasters
from terrains import Terrain

SIZE_M = 700.0
DITCHES, ROADS = 3, 3
# Shapes are drawn on cells of this size; larger cells hold their mean.
FINE_M = 1.0
CROWN_HALF_M, EMBANKMENT_SLOPE = 3.5, 0.5
EMBANKMENT_M = (0.6, 1.5)


@dataclass(frozen=True)
class Lowland:
    terrain: Terrain
    roads: list
    culverts: list
    """Lines drawn downstream, from open ditch to open ditch."""


def smooth(rng, shape, sigma, amplitude):
    noise = ndimage.gaussian_filter(rng.normal(size=shape), sigma, mode="wrap")
    return amplitude * noise / np.abs(noise).max()


def falling(level, least):
    """The highest profile not above `level` that falls by at least `least` a step, with one grade for long stretches."""
    steps = least * np.arange(level.size)
    return np.minimum.accumulate(level + steps) - steps


def lowland(seed, cell):
    rng = np.random.default_rng([seed, 715])
    drawn, cell = cell, FINE_M
    count = int(SIZE_M / cell)
    rows, cols = np.indices((count, count))
    x, y = (cols + 0.5) * cell, (rows + 0.5) * cell
    fall = rng.uniform(0.002, 0.006)
    land = 190.0 - fall * y + smooth(rng, x.shape, 90.0 / cell, 0.5) + smooth(rng, x.shape, 25.0 / cell, 0.15)
    land -= 0.4 * np.maximum(0.0, smooth(rng, x.shape, 15.0 / cell, 1.0) - 0.5)
    ground = land.copy()
    along = y[:, 0]
    ditches = []
    for number in range(DITCHES):
        middle = SIZE_M * (number + 0.5) / DITCHES + rng.uniform(-40.0, 40.0)
        line = middle + 18.0 * np.sin(along / rng.uniform(70.0, 140.0) + rng.uniform(0.0, 6.0))
        at = np.clip((line / cell).astype(int), 0, count - 1)
        bed = falling(land[np.arange(count), at] - rng.uniform(0.7, 1.1), 0.0008 * cell)
        ground = np.minimum(ground, bed[:, None] + np.maximum(0.0, np.abs(x - line[:, None]) - 0.7) / 1.5)
        bank = np.abs(np.abs(x - line[:, None]) - 6.0) < 1.2
        ground = np.where(bank & (smooth(rng, x.shape, 20.0 / cell, 1.0) > 0.45), ground + 0.35, ground)
        ditches.append((line, bed))
    roads, culverts = [], []
    for number in range(ROADS):
        middle = SIZE_M * (number + 0.7) / ROADS + rng.uniform(-40.0, 40.0)
        turn = rng.uniform(-0.25, 0.25)
        centre = middle + turn * (x[0] - SIZE_M / 2.0)
        foreshortened = np.cos(np.arctan(turn))
        offset = (y - centre) * foreshortened
        at = np.clip((centre / cell).astype(int), 0, count - 1)
        crown = ndimage.gaussian_filter1d(land[at, np.arange(count)], 15.0 / cell) + rng.uniform(*EMBANKMENT_M)
        crossings = []
        for line, bed in ditches:
            row = np.argmin(np.abs(along - centre[np.clip((line / cell).astype(int), 0, count - 1)]))
            crossings.append((int(line[row] / cell), row, bed[row]))
        ground = np.minimum(ground, side_ditch(land, crossings, at, cell) + np.maximum(0.0, np.abs(offset + 8.0) - 0.5) / 1.5)
        embankment = crown - EMBANKMENT_SLOPE * np.maximum(0.0, np.abs(offset) - CROWN_HALF_M)
        ground = np.maximum(ground, embankment)
        roads.append(centre)
        for (col, row, bed), (line, _) in zip(crossings, ditches, strict=True):
            half = (CROWN_HALF_M + (crown[col] - bed) / EMBANKMENT_SLOPE + 1.5) / foreshortened
            ends = [min(count - 1, max(0, round(row + side * half / cell))) for side in (-1, 1)]
            culverts.append([(line[end], along[end]) for end in ends])
    block = int(drawn / FINE_M)
    ground = ground.reshape(count // block, block, count // block, block).mean(axis=(1, 3))
    ground += smooth(rng, ground.shape, 1.2, 0.05) + rng.normal(0.0, 0.012, ground.shape)
    turns = seed % 4
    terrain = Terrain(f"lowland-{seed}-{drawn:g}m", np.rot90(ground, turns).astype(np.float32), (drawn, drawn))
    strips = [shapely.LineString(np.column_stack((x[0], centre))).buffer(CROWN_HALF_M + 1.0, cap_style="flat") for centre in roads]
    return Lowland(terrain, [on_map(strip, turns) for strip in strips], [on_map(shapely.LineString(c), turns) for c in culverts])


def side_ditch(land, crossings, at, cell):
    """The bed of the ditch beside a road, for each column: falling to the nearer crossing, shallow half-way to the next one and
    at the edge of the map, so that no water leaves by it."""
    cols = np.arange(land.shape[1])
    upper = np.clip(at - int(8.0 / cell), 0, land.shape[0] - 1)
    bed = land[upper, cols] - 0.1
    places = sorted((col, level) for col, _, level in crossings)
    bounds = [0, *((a[0] + b[0]) // 2 for a, b in zip(places, places[1:])), cols.size]
    for (col, level), start, end in zip(places, bounds, bounds[1:]):
        for part in (bed[start : col + 1], bed[col:end][::-1]):
            part -= np.linspace(0.0, 0.4, part.size)
            part[-1] = max(level, part.min() - 0.1)
            part[:] = falling(part, 0.001 * cell)
    return bed


def on_map(geometry, turns):
    """From metres east and south of the corner to the map, with the terrain turned counter-clockwise in quarter turns."""

    def each(xy):
        for _ in range(turns):
            xy = np.column_stack((xy[:, 1], SIZE_M - xy[:, 0]))
        return np.column_stack((rasters.WEST + xy[:, 0], rasters.NORTH - xy[:, 1]))

    return shapely.transform(geometry, each)
