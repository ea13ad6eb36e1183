"""The same ground in larger cells: each the mean of the cells that it covers."""

import numpy as np
import rasterio


def average(source, target, times):
    """Writes the ground of `source` in cells `times` as long; where fewer than half of the cells have elevation it has none. Rows and
    columns that fill no whole cell at the south and east are left out."""
    with rasterio.open(source) as dem:
        heights = dem.read(1, masked=True).filled(np.nan).astype(np.float64)
        crs, transform = dem.crs, dem.transform
    rows, cols = (side // times for side in heights.shape)
    blocks = heights[: rows * times, : cols * times].reshape(rows, times, cols, times)
    known = np.isfinite(blocks).sum(axis=(1, 3))
    mean = np.nansum(blocks, axis=(1, 3)) / np.maximum(known, 1)
    mean[2 * known < times**2] = np.nan
    profile = {"driver": "GTiff", "height": rows, "width": cols, "count": 1, "dtype": "float32", "nodata": np.nan}
    with rasterio.open(target, "w", crs=crs, transform=transform * transform.scale(times), **profile) as out:
        out.write(mean.astype(np.float32), 1)
