"""Flat delta farmland in degrees and feet: refused with what to do, then warped; the order of its mapped lines as published."""

import json
from collections import Counter

import pytest
import rasterio
import shapely

import balance
import cases
import program
import projection

CRS = "EPSG:26915"
# Our choice, set before the first measurement: nine in ten; flat ground and 100 m cells leave room for the rest.
LEAST_AGREEING = 0.9
PARCEL_SIDE_M = 2_000.0
# Away from the rim of the warped raster, which is not parallel to the old one.
RIM_M = 500.0

CASE = """name = "Delta with invented parcels"
[terrain]
elevation = ["{data}/dem_100m_feet.tif"]
{terrain}
[parcels]
source = "parcels.gpkg"
id = "roll"
owner = "owner"
[[waterways]]
source = "{data}/flowlines.geojson"
id = "COMID"
class = "natural_watercourse"
"""
WARPED = """vertical_unit = "ft"
warp = { crs = "EPSG:26915", cell_m = 100.0, method = "bilinear" }"""


@pytest.fixture(scope="module")
def delta(real_data, tmp_path_factory):
    """The folder of the data, and a folder with invented square parcels for case files beside them."""
    data, folder = real_data / "delta", tmp_path_factory.mktemp("delta")
    with rasterio.open(data / "dem_100m_feet.tif") as dem:
        covered = projection.transform(shapely.box(*dem.bounds), dem.crs.to_string(), CRS)
    cases.write_square_parcels(folder / "parcels.gpkg", covered.buffer(-RIM_M), CRS, PARCEL_SIDE_M)
    return data, folder


def write_case(delta, name, terrain):
    data, folder = delta
    file = folder / name
    file.write_text(CASE.format(data=data, terrain=terrain))
    return file


@pytest.mark.reference("pyproj")
def test_degrees_without_a_vertical_unit_are_refused_with_what_to_do(delta):
    message = program.run("check", write_case(delta, "as_found.toml", ""), exit_code=3).stderr
    assert CRS in message
    assert "vertical_unit" in message


@pytest.fixture(scope="module")
def warped(delta):
    _, folder = delta
    return cases.outlets(write_case(delta, "warped.toml", WARPED), folder / "out")


@pytest.mark.reference("numpy")
def test_main_job_on_warped_ground_balances(warped, measured):
    balance.assert_balanced(warped)
    measured(f"delta: {len(warped.features('parcels'))} invented parcels balance to the cell")


def published_order(data):
    """For each line whose next line is in the set too: its id and the next one's, by the data's own `tocomid`."""
    lines = [feature["properties"] for feature in json.loads((data / "flowlines.geojson").read_text())["features"]]
    ids = {str(line["COMID"]) for line in lines}
    return {str(line["COMID"]): str(line["tocomid"]) for line in lines if str(line["tocomid"]) in ids}


def traced_order(reaches):
    """For each waterway the waterways that its reaches lead to first; None where they leave the network."""
    by_id = {reach["reach_id"]: reach for reach in reaches}
    order = {}
    for reach in reaches:
        following = by_id.get(reach["to_reach"])
        if following is None or following["waterway_id"] != reach["waterway_id"]:
            order.setdefault(reach["waterway_id"], set()).add(following and following["waterway_id"])
    return order


def kind_of_disagreement(line, published, order):
    found = order.get(line)
    if found is None:
        return "no reach"
    if len(found) > 1:
        return "several ways, one of them as published" if published in found else "several ways, none as published"
    (only,) = found
    if only is None:
        return "leaves the network"
    return "reversed" if published in order and order[published] == {line} else "another line"


@pytest.mark.reference("pyproj")
def test_order_of_reaches_against_the_published_links(delta, warped, measured):
    data, _ = delta
    published = published_order(data)
    assert len(published) == 194
    order = traced_order([feature["properties"] for feature in warped.features("reaches")])
    differing = {line: to for line, to in published.items() if order.get(line) != {to}}
    kinds = Counter(kind_of_disagreement(line, to, order) for line, to in differing.items())
    agreeing = len(published) - len(differing)
    measured(f"{agreeing} of {len(published)} published links agree ({agreeing / len(published):.1%}); else {dict(kinds)}")
    for line, to in sorted(differing.items()):
        measured(f"  {line}: published {to}, traced {sorted(map(str, order.get(line, ())))}")
    assert agreeing / len(published) >= LEAST_AGREEING
