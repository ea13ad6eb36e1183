"""Digests of the cells of the rasters that `fallwright terrain` wrote: those that `fallwright-benches engine` gives in memory."""

import hashlib

import numpy as np
import rasterio
from rasterio.windows import Window

# Each raster with the type that its cells have in memory.
RASTERS = {"ground": "<f4", "direction": "u1", "area_draining": "<u4"}
ROWS_AT_ONCE = 256


def digests(folder):
    """SHA-256 of the cells of each raster, row by row, in hexadecimal; missing data is NaN."""
    return {name: digest(folder / f"{name}.tif", kind) for name, kind in RASTERS.items()}


def digest(path, kind):
    found = hashlib.sha256()
    with rasterio.open(path) as raster:
        for row in range(0, raster.height, ROWS_AT_ONCE):
            rows = min(ROWS_AT_ONCE, raster.height - row)
            block = raster.read(1, window=Window(0, row, raster.width, rows))
            cells = block.astype(kind)
            if kind == "<f4":
                cells[np.isnan(cells)] = np.nan
            elif (cells != block).any():
                raise ValueError(f"{path}: cells that are no {kind}")
            found.update(cells.tobytes())
    return found.hexdigest()
