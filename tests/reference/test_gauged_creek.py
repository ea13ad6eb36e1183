"""A mountain creek with a stream gauge: published drainage area and basin polygon; then the main job with invented parcels."""

import json

import pytest
import rasterio
import shapely
from shapely.geometry import shape

import balance
import cases
import program
import projection

CRS = "EPSG:26911"
# U.S. Geological Survey, site record of gauge 10343500: position, and a drainage area of 10.5 square miles.
GAUGE = "221302.0,4369672.3"
PUBLISHED_SQUARE_METRES = 27.19e6
# A tributary of 0.7 km² joins about 60 m downstream of the gauge.
SNAP_M = 50
# Our choice: the published figure has three digits, and the divide is only as good as a 10 m grid.
AREA_TOLERANCE = 0.015
LEAST_OVERLAP = 0.95
PARCEL_SIDE_M = 600.0

CASE = """name = "Gauged creek with invented parcels"
[terrain]
elevation = ["{data}/dem_10m.tif"]
vertical_unit = "m"
[parcels]
source = "parcels.gpkg"
id = "roll"
owner = "owner"
[[waterways]]
source = "{data}/streams.geojson"
id = "nhdplus_co"
class = "natural_watercourse"
"""


@pytest.fixture(scope="module")
def creek(real_data, tmp_path_factory):
    """The folder of the data and a case file; invented squares cover the whole elevation model."""
    data, folder = real_data / "gauged_creek", tmp_path_factory.mktemp("creek")
    with rasterio.open(data / "dem_10m.tif") as dem:
        covered = shapely.box(*dem.bounds)
    cases.write_square_parcels(folder / "parcels.gpkg", covered, CRS, PARCEL_SIDE_M)
    file = folder / "case.toml"
    file.write_text(CASE.format(data=data))
    return data, file


def polygons(path):
    features = json.loads(path.read_text())["features"]
    whole = [feature for feature in features if feature["properties"].get("part", "whole") == "whole"]
    return shapely.union_all([projection.from_lonlat(shape(feature["geometry"]), CRS) for feature in whole])


@pytest.mark.reference("shapely", "pyproj")
def test_watershed_of_the_gauge(creek, tmp_path, measured):
    data, file = creek
    program.run("watershed", file, "--at", GAUGE, "--snap", SNAP_M, "--out", tmp_path / "out")
    found, published = polygons(tmp_path / "out/watershed.geojson"), polygons(data / "basin.geojson")
    overlap = found.intersection(published).area / found.union(published).area
    difference = found.area / PUBLISHED_SQUARE_METRES - 1.0
    measured(
        f"gauge USGS 10343500: {found.area / 1e6:.2f} km², published 27.19 km² ({difference:+.2%});"
        f" intersection over union with the basin polygon {overlap:.4f}"
    )
    assert abs(difference) <= AREA_TOLERANCE
    assert overlap >= LEAST_OVERLAP


@pytest.mark.reference("numpy")
def test_main_job_on_real_ground(creek, tmp_path, measured):
    _, file = creek
    case = cases.outlets(file, tmp_path / "out")
    balance.assert_balanced(case)
    measured(f"gauged creek: {len(case.features('parcels'))} invented parcels balance to the cell")
