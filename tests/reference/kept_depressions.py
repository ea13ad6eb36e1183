"""Which depressions are kept by size, from the definition alone: what morphological reconstruction fills and labelling separates.

A depression is a connected area under one water level. Where one is kept, its water ends in its deepest cell; what is then
filled still is looked at again, until nothing filled exceeds the thresholds.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from skimage.measure import label
from skimage.morphology import reconstruction

import flow

EIGHT_NEIGHBOURS = np.ones((3, 3))


@dataclass(frozen=True)
class Kept:
    level_m: float
    cells: int
    """Under its water and in no depression inside it."""
    depth_m: float
    volume_m3: float
    """Without what depressions inside it hold up to their levels."""


def filled(elevation, sinks=()):
    """Reconstruction by erosion (Vincent 1993) from the rim of the data and the `sinks`, eight neighbours."""
    valid = ~np.isnan(elevation)
    wall = elevation[valid].max() + 1.0
    ground = np.where(valid, elevation, wall)
    seed = np.where(flow.beside_nodata_or_edge(valid), ground, wall)
    for sink in sinks:
        seed[sink] = ground[sink]
    surface = reconstruction(seed, ground, method="erosion", footprint=EIGHT_NEIGHBOURS)
    return np.where(valid, surface, np.nan).astype(np.float32)


def ponds(elevation, surface):
    """Each connected filled area as a mask, with its depth of water."""
    depth = np.nan_to_num(surface.astype(float) - elevation)
    labels = label(depth > 0.0, connectivity=2)
    for number, around in enumerate(ndimage.find_objects(labels), start=1):
        inside = np.zeros(labels.shape, dtype=bool)
        inside[around] = labels[around] == number
        yield inside, np.where(inside, depth, 0.0)


def kept(elevation, cell_m2, least_depth_m, least_ha, least_m3):
    """The kept depressions, where their water ends, and the cells and cubic metres of them all as one."""
    sinks, masks = [], []
    whole_cells, whole_m3 = None, None
    while True:
        surface = filled(elevation, sinks)
        larger = [
            (inside, depth)
            for inside, depth in ponds(elevation, surface)
            if depth.max() > least_depth_m
            and inside.sum() * cell_m2 / 10_000.0 > least_ha
            and depth.sum() * cell_m2 > least_m3
        ]
        if whole_cells is None:
            whole_cells = sum(int(inside.sum()) for inside, _ in larger)
            whole_m3 = sum(depth.sum() for _, depth in larger) * cell_m2
        if not larger:
            return counted_once(elevation, masks, cell_m2), sinks, whole_cells, whole_m3
        for inside, depth in larger:
            deepest = np.unravel_index(depth.argmax(), depth.shape)
            sinks.append(deepest)
            masks.append((inside, float(surface[deepest]), depth.max()))


def counted_once(elevation, masks, cell_m2):
    """Those found last lie inside those found before."""
    water = elevation.astype(float)
    taken = np.zeros(elevation.shape, dtype=bool)
    found = []
    for inside, level, depth in reversed(masks):
        volume = (level - water[inside]).sum() * cell_m2
        found.append(Kept(level, int((inside & ~taken).sum()), depth, volume))
        water[inside] = level
        taken |= inside
    return found
