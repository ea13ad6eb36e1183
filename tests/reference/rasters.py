"""Elevation models in, the rasters of `fallwright terrain` out."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

import program

# UTM zone 17N on NAD83; the corner is made up.
CRS = "EPSG:26917"
WEST, NORTH = 500_000.0, 4_800_000.0
NODATA = -9999.0


@dataclass(frozen=True)
class Rasters:
    """The three rasters; `ground` is NaN where there is no data."""

    ground: np.ndarray
    direction: np.ndarray
    area_draining: np.ndarray
    transform: rasterio.Affine

    @property
    def valid(self):
        return ~np.isnan(self.ground)

    @property
    def cell(self):
        """Cell width and height in metres."""
        return self.transform.a, -self.transform.e


def write_dem(path, terrain):
    rows, cols = terrain.elevation.shape
    elevation = np.where(np.isnan(terrain.elevation), np.float32(NODATA), terrain.elevation)
    profile = {
        "driver": "GTiff",
        "width": cols,
        "height": rows,
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "transform": from_origin(WEST, NORTH, *terrain.cell),
        "nodata": NODATA,
    }
    with rasterio.open(path, "w", **profile) as dataset:
        dataset.write(elevation, 1)


def read(folder):
    folder = Path(folder)
    with rasterio.open(folder / "ground.tif") as dataset:
        ground = dataset.read(1, masked=True).filled(np.nan)
        transform = dataset.transform
    return Rasters(ground, read_band(folder / "direction.tif"), read_band(folder / "area_draining.tif"), transform)


def read_band(path):
    with rasterio.open(path) as dataset:
        return dataset.read(1)


def condition(terrain, folder):
    """Write the terrain, run `fallwright terrain` on it and read what it wrote."""
    dem, out = Path(folder) / "dem.tif", Path(folder) / "out"
    write_dem(dem, terrain)
    program.run("terrain", dem, "--out", out, "--vertical-unit", "m", "--longest-cut", 0, "--overwrite")
    return read(out)
