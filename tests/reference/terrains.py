"""Small invented terrains, each from its own seed, and matplotlib's Jacksboro elevation model.

Elevations are float32 metres with row 0 in the north; NaN marks nodata.
"""

from dataclasses import dataclass

import matplotlib.cbook
import numpy as np
from scipy import ndimage


@dataclass(frozen=True)
class Terrain:
    name: str
    elevation: np.ndarray
    cell: tuple[float, float] = (2.0, 2.0)
    """Cell width and height in metres."""


def rough(rng, shape):
    """A tilted plane under noise: many small pits, hardly any ties."""
    rows, cols = np.indices(shape)
    return 200.0 - 0.02 * rows - 0.03 * cols + rng.normal(0.0, 0.3, shape)


def rolling(rng, shape):
    """Smoothed noise: broad hollows inside broader ones."""
    return 200.0 + 8.0 * ndimage.gaussian_filter(rng.normal(size=shape), 3.0) + rng.normal(0.0, 0.01, shape)


def stepped(rng, shape):
    """Rolling ground in steps of a quarter metre: large flats and ties everywhere."""
    return np.round(rolling(rng, shape) * 4.0) / 4.0


def terraced(rng, shape):
    """Whole metres only, few levels: flats that touch the edge, pits and each other."""
    return 100.0 + rng.integers(0, 4, shape)


def with_holes(rng, elevation):
    """Blobs and single cells of nodata."""
    blobs = ndimage.gaussian_filter(rng.normal(size=elevation.shape), 2.0)
    holes = (blobs > np.quantile(blobs, 0.93)) | (rng.random(elevation.shape) < 0.01)
    return np.where(holes, np.nan, elevation)


def random_terrains():
    """Four kinds of ground in six sizes, plain and with holes, and one with cells that are not square."""
    shapes = [(40, 60), (61, 37), (1, 25), (2, 17), (3, 3), (90, 110)]
    terrains = []
    for kind in (rough, rolling, stepped, terraced):
        for number, shape in enumerate(shapes):
            rng = np.random.default_rng([number, *kind.__name__.encode()])
            ground = kind(rng, shape)
            terrains.append(Terrain(f"{kind.__name__}-{shape[1]}x{shape[0]}", ground.astype(np.float32)))
            if min(shape) > 3:
                holed = with_holes(rng, ground).astype(np.float32)
                terrains.append(Terrain(f"{kind.__name__}-{shape[1]}x{shape[0]}-holes", holed))
    oblong = stepped(np.random.default_rng(7), (45, 50)).astype(np.float32)
    terrains.append(Terrain("stepped-oblong-cells", oblong, (2.0, 3.0)))
    return terrains


def jacksboro():
    """Real elevations (whole metres, so with many flats) in a made-up frame: the source is in degrees."""
    with matplotlib.cbook.get_sample_data("jacksboro_fault_dem.npz") as sample:
        return Terrain("jacksboro", sample["elevation"].astype(np.float32), (90.0, 90.0))
