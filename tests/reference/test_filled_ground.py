"""Filled ground that paths cross, labelled anew with SciPy: hectares, depth, and paths that end higher than they began."""

import json

import numpy as np
import pytest
import rasterio
import shapely
from scipy import ndimage

import flow
import program
import projection
import rasters

pytestmark = pytest.mark.reference("scipy", "pyproj")

CELLS, CELL_M, LOT = 60, 20.0, 15
# Numbers of the profile `ontario`, our choice: metres and hectares of filling that count.
FILLED_M, FILLED_HA = 0.3, 2.0
SEEDS = 12
CASE = """
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
longest_cut_m = 0
[parcels]
source = "parcels.geojson"
id = "roll"
"""


def write_case(folder, seed):
    """Invented rough ground without waterways, so that only filling carries water on, in square lots."""
    random = np.random.default_rng(seed)
    rough = ndimage.gaussian_filter(random.normal(size=(CELLS, CELLS)), random.uniform(1.5, 5.0), mode="nearest")
    elevation = (100.0 + random.uniform(0.2, 1.2) * rough / rough.std()).astype(np.float32)
    profile = {"driver": "GTiff", "width": CELLS, "height": CELLS, "count": 1, "dtype": "float32", "crs": rasters.CRS}
    transform = rasterio.transform.from_origin(rasters.WEST, rasters.NORTH, CELL_M, CELL_M)
    with rasterio.open(folder / "dem.tif", "w", transform=transform, **profile) as dataset:
        dataset.write(elevation, 1)
    lots = []
    for position, (row, col) in enumerate(np.ndindex(CELLS // LOT, CELLS // LOT)):
        west, north = rasters.WEST + col * LOT * CELL_M, rasters.NORTH - row * LOT * CELL_M
        lot = shapely.box(west, north - LOT * CELL_M, west + LOT * CELL_M, north)
        geometry = json.loads(shapely.to_geojson(projection.to_lonlat(lot, rasters.CRS)))
        lots.append({"type": "Feature", "properties": {"roll": f"{position:02}"}, "geometry": geometry})
    (folder / "parcels.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": lots}))
    (folder / "case.toml").write_text(CASE)
    return elevation


def paths_cells(receiver, start):
    cells = [start]
    while receiver[cells[-1]] >= 0:
        cells.append(receiver[cells[-1]])
    return np.array(cells)


def compared(folder, seed):
    """Differences, and how many shares cross filled ground and end higher than they began."""
    elevation = write_case(folder, seed)
    out = folder / "out"
    program.run("outlets", folder / "case.toml", "--out", out, "--overwrite")
    found = rasters.read(out)
    receiver = flow.receivers(found.direction)
    depth = found.ground.astype(float) - elevation.astype(float)
    hollows, count = ndimage.label(depth > 0.0, structure=np.ones((3, 3)))
    hectares = ndimage.sum_labels(np.ones_like(depth), hollows, range(count + 1)) * CELL_M**2 / 10_000.0
    deepest = ndimage.maximum(depth, hollows, range(count + 1))
    differences, filled, higher = [], 0, 0
    for feature in json.loads((out / "parcels.geojson").read_text())["features"]:
        parcel = feature["properties"]
        measured = {(item["measure"], item["value"]) for item in parcel["evidence"]}
        # The remainder gathers small groups and leaves in no one place.
        for share in (share for share in parcel["shares"] if share["leaving_point"]):
            x, y = projection.from_lonlat(shapely.Point(share["leaving_point"]), rasters.CRS).coords[0]
            start = int((rasters.NORTH - y) // CELL_M) * CELLS + int((x - rasters.WEST) // CELL_M)
            cells = paths_cells(receiver, start)
            on_path = depth.ravel()[cells]
            hollow = hollows.ravel()[cells[on_path.argmax()]]
            large = hollow > 0 and hectares[hollow] > FILLED_HA
            is_filled = bool(large or on_path.max() > FILLED_M)
            rise = float(elevation.ravel()[cells[-1]]) - float(elevation.ravel()[start])
            is_higher = bool(rise > FILLED_M and on_path.max() > FILLED_M)
            filled, higher = filled + is_filled, higher + is_higher
            for reason, expected in [("path_crosses_filled_ground", is_filled), ("path_ends_higher", is_higher)]:
                if (reason in share["reasons"]) != expected:
                    differences.append((parcel["parcel_id"], share["share"], reason, expected))
            if is_filled:
                for measure, value in [("filled_area", hectares[hollow]), ("filled_depth", deepest[hollow])]:
                    if not any(name == measure and abs(known - value) <= 0.00051 for name, known in measured):
                        differences.append((parcel["parcel_id"], share["share"], measure, value))
    return [(seed, *difference) for difference in differences], filled, higher


def test_filled_ground_on_paths(tmp_path):
    found = [compared(tmp_path, seed) for seed in range(SEEDS)]
    differences = [difference for of_seed, _, _ in found for difference in of_seed]
    filled, higher = sum(count for _, count, _ in found), sum(count for _, _, count in found)
    assert not differences, differences
    assert filled and higher, f"{filled} shares on filled ground, {higher} that end higher: nothing was compared"
