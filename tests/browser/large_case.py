"""Writes a case of 100 km² and 2,000 parcels, all invented: rolling ground, a creek, drains along every second lot line."""

import sys
from pathlib import Path

import geopandas
import numpy as np
import rasterio
from rasterio.transform import from_origin
from scipy.ndimage import gaussian_filter
from shapely.geometry import LineString, box

SIDE_M = 10_000.0
CELL_M = 5.0
COLS, ROWS = 50, 40
WEST, NORTH = 400_000.0, 4_850_000.0

target = Path(sys.argv[1])
target.mkdir(parents=True, exist_ok=True)
cells = int(SIDE_M / CELL_M)
random = np.random.default_rng(20261125)
ground = np.zeros((cells, cells))
for smooth_m, height_m in [(800.0, 12.0), (200.0, 2.0), (40.0, 0.3)]:
    noise = gaussian_filter(random.standard_normal((cells, cells)), smooth_m / CELL_M)
    ground += height_m * noise / noise.std()
ground += 200.0 + np.linspace(30.0, 0.0, cells)[None, :]
transform = from_origin(WEST, NORTH, CELL_M, CELL_M)
shape = {"width": cells, "height": cells, "count": 1, "dtype": "float32", "crs": "EPSG:26917", "transform": transform}
with rasterio.open(target / "elevation.tif", "w", driver="GTiff", compress="deflate", **shape) as raster:
    raster.write(ground.astype("float32"), 1)

width, height = SIDE_M / COLS, SIDE_M / ROWS
parcels = [
    {
        "roll": f"{row:03d}-{col:03d}",
        "owner": f"Owner {row * COLS + col} Invented",
        "legal": f"Lot {col + 1}, Concession {row + 1}",
        "geometry": box(WEST + col * width, NORTH - (row + 1) * height, WEST + (col + 1) * width, NORTH - row * height),
    }
    for row in range(ROWS)
    for col in range(COLS)
]
geopandas.GeoDataFrame(parcels, crs="EPSG:26917").to_file(target / "parcels.gpkg", layer="parcels", driver="GPKG")


def line(points):
    return LineString([(WEST + x, NORTH - y) for x, y in points])


creek = [(x, 5_000.0 + 300.0 * np.sin(x / 900.0)) for x in np.linspace(10.0, SIDE_M - 10.0, 200)]
waterways = [{"id": "WC-1", "name": "Long Creek", "kind": "natural_watercourse", "geometry": line(creek)}]
for i, x in enumerate(np.arange(width, SIDE_M - width, 4 * width)):
    middle = 5_000.0 + 300.0 * np.sin(x / 900.0)
    for j, (start, end) in enumerate([(500.0, middle), (SIDE_M - 500.0, middle)]):
        course = line([(x, y) for y in np.linspace(start, end, 50)])
        waterways.append({"id": f"D-{i}-{j}", "name": f"Drain {i}-{j}", "kind": "municipal_drain", "geometry": course})
geopandas.GeoDataFrame(waterways, crs="EPSG:26917").to_file(target / "waterways.gpkg", layer="waterways", driver="GPKG")

(target / "case.toml").write_text(
    """name = "A large invented block"
[terrain]
elevation = ["elevation.tif"]
vertical_unit = "m"
[parcels]
source = "parcels.gpkg"
id = "roll"
owner = "owner"
legal = "legal"
[[waterways]]
source = "waterways.gpkg"
id = "id"
name = "name"
class_field = "kind"
"""
)
