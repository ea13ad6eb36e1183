"""Flat delta farmland in degrees and feet: refused with what to do, then warped; the order of its mapped lines as published."""

import json
from collections import Counter, defaultdict

import numpy as np
import pytest
import rasterio
import shapely

import balance
import cases
import program
import projection

CRS = "EPSG:26915"
# Our choice: of the lines that hold a reach and lie on the elevation with the line that they give their water to.
LEAST_AGREEING_ON_ELEVATION = 0.97
# Two or three lines under what was first measured with the lines that run off the elevation counted too (182 of 187).
LEAST_AGREEING = 0.95
HALF_A_CELL_M = 50.0
# Two cells along a diagonal.
NEAR_JUNCTION_M = 283.0
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


def stream_lines(data):
    """Properties and projected geometry of each line, by its id."""
    lines = json.loads((data / "flowlines.geojson").read_text())["features"]
    return {
        str(line["properties"]["COMID"]): (
            line["properties"],
            projection.from_lonlat(shapely.geometry.shape(line["geometry"]), CRS),
        )
        for line in lines
    }


def published_order(lines):
    """For each line whose next line is in the set too: the next one's id, by the data's own `tocomid`."""
    following = {line: str(properties["tocomid"]) for line, (properties, _) in lines.items()}
    return {line: to for line, to in following.items() if to in lines}


def traced_order(reaches):
    """For each waterway where its water goes when it leaves the waterway, with the hectares that leave that way; the key is the
    id of the next waterway, or None where water leaves the network."""
    waterway = {reach["reach_id"]: reach["waterway_id"] for reach in reaches}
    order = defaultdict(Counter)
    for reach in reaches:
        following = waterway.get(reach["to_reach"])
        if following != reach["waterway_id"]:
            order[reach["waterway_id"]][following] += reach["surface_ha"]
    return order


class Disagreement:
    """Says of what kind a disagreement is, by facts that can be checked; tried in this order."""

    def __init__(self, warped, lines, order):
        self.published, self.order = published_order(lines), order
        self.line = {line: geometry for line, (_, geometry) in lines.items()}
        covered = warped.rasters.valid
        x, y = np.indices(covered.shape)[::-1] + 0.5
        x, y = warped.rasters.transform * (x[~covered], y[~covered])
        half = HALF_A_CELL_M
        self.without_data = shapely.STRtree(shapely.box(x - half, y - half, x + half, y + half))
        self.extent = shapely.box(*rasterio.transform.array_bounds(*covered.shape, warped.rasters.transform))
        self.turned = {
            warning["about"].removeprefix("waterway ")
            for warning in warped.run["warnings"]
            if "drawn uphill" in warning["found"]
        }

    def is_outside(self, line):
        geometry = self.line[line]
        return not self.extent.covers(geometry) or self.without_data.query(geometry, predicate="intersects").size > 0

    def kind(self, line):
        to, found = self.published[line], self.order.get(line, Counter())
        concerned = {line, to, *found} - {None}
        junction = shapely.Point(self.line[line].coords[-1])
        elsewhere = [other for other in found if other is not None and other != to]
        if any(map(self.is_outside, concerned)):
            return "a line runs off the elevation"
        if self.turned & concerned:
            return "a line taken as drawn uphill"
        if not found or (to not in self.order and set(found) == {self.published.get(to)}):
            return "a line within one cell"
        if found.most_common(1)[0][0] == to:
            return "a side arm of a few cells"
        if all(self.line[other].distance(junction) < NEAR_JUNCTION_M for other in elsewhere) and None not in found:
            return "three lines within two cells of a junction"
        return "not explained"


def agreement(line, published, order):
    """How the line that receives the water of `line` compares with the published one."""
    found, to = set(order[line]), published[line]
    if found == {to}:
        return "exact"
    # A published line shorter than a cell may hold no reach; the next one that does receives the water in its place.
    while to not in order and to in published:
        to = published[to]
    if found == {to}:
        return "skipped"
    return "moved" if published[line] in found else "other"


@pytest.mark.reference("pyproj", "shapely")
def test_order_of_reaches_against_the_published_links(delta, warped, measured):
    data, _ = delta
    lines = stream_lines(data)
    published = published_order(lines)
    assert len(published) == 194
    order = traced_order([feature["properties"] for feature in warped.features("reaches")])
    disagreement = Disagreement(warped, lines, order)
    with_reach = {line: agreement(line, published, order) for line in published if line in order}
    agreeing = {line for line, found in with_reach.items() if found in ("exact", "skipped")}
    counts = ", ".join(f"{count} {found}" for found, count in Counter(with_reach.values()).most_common())
    measured(f"of {len(published)} published links {len(with_reach)} leave a line that holds a reach: {counts}")
    kinds = {line: disagreement.kind(line) for line in with_reach.keys() - agreeing}
    for kind, count in Counter(kinds.values()).most_common():
        measured(f"  {count:2} differ: {kind}")
    on_elevation = {line for line in with_reach if not any(map(disagreement.is_outside, (line, published[line])))}
    share = len(on_elevation & agreeing) / len(on_elevation)
    measured(f"{len(on_elevation & agreeing)} of {len(on_elevation)} agree where both lines lie on the elevation ({share:.1%})")
    unexplained = {line: dict(order[line]) for line, kind in kinds.items() if kind == "not explained"}
    assert not unexplained, unexplained
    reversed_lines = {line for line in kinds if line in order[published[line]]}
    assert reversed_lines <= disagreement.turned, "reversed without a note"
    assert len(agreeing) >= LEAST_AGREEING * len(with_reach)
    assert share >= LEAST_AGREEING_ON_ELEVATION
