"""The area proposed for a petition on the demonstration against shapely: what lies in it, what was left out, what it leaves of each land."""

import json
import subprocess

import pytest
import shapely
from shapely.geometry import shape

import program
import projection
import random_cases

pytestmark = pytest.mark.reference("shapely", "pyproj")

RANDOM_CASES = 30
SLIVER_HA = 0.5
# Of coordinates in degrees to nine places.
NOISE_M = 0.05
# A lot line runs through cells of 10 m: what the cells say of a part can differ along its edge.
EDGE_SHARE = 0.1


@pytest.fixture(scope="module")
def crs(demonstration):
    return demonstration.parcel_polygons()[0]


@pytest.fixture(scope="module")
def parcels(demonstration, crs):
    """Each parcel's properties with its polygon in metres."""
    features = json.loads((demonstration.out / "parcels.geojson").read_text())["features"]
    return {
        feature["properties"]["parcel_id"]: (feature["properties"], metres(crs, feature["geometry"]))
        for feature in features
    }


def metres(crs, geometry):
    return projection.from_lonlat(shape(geometry), crs)


def asked_parcels(parcels):
    """Six of those without an outlet, from the first to the last."""
    acquire = sorted(name for name, (found, _) in parcels.items() if found["standing"] == "acquire")
    return acquire[:: max(1, len(acquire) // 6)][:6]


def test_proposed_areas(demonstration, crs, parcels, tmp_path, measured):
    paths = json.loads((demonstration.out / "paths.geojson").read_text())["features"]
    asked = asked_parcels(parcels)
    assert len(asked) >= 3
    lands_seen = 0
    for name in asked:
        out = tmp_path / name
        program.run("petition", demonstration.file, "--suggest", name, "--out", out, "--quiet")
        record = json.loads((out / "petition.json").read_text())["suggested"]
        features = json.loads((out / "area.geojson").read_text())["features"]
        inside = {feature["properties"]["id"]: metres(crs, feature["geometry"]) for feature in features}
        assert [land["id"] for land in record["lands"]] == list(inside)
        crossed = {
            parcel
            for path in paths
            if path["properties"]["parcel_id"] == name
            for parcel in path["properties"]["parcels_crossed"]
        }
        for land in record["lands"]:
            area = inside[land["id"]]
            assert shapely.is_valid(area)
            assert land["inside_ha"] == pytest.approx(area.area / 10_000.0, abs=1e-3)
            if land["kind"] == "road":
                continue
            found, whole = parcels[land["id"]]
            assert area.difference(whole.buffer(NOISE_M)).area < 1.0
            assert (land["part"] == "all") == (whole.difference(area).area < 1.0)
            in_need = found["acquire_ha"] + land["of_another_standing_ha"] + land["under_water_ha"]
            assert land["of_another_standing_ha"] <= found["right_ha"] + found["undecided_ha"] + 1e-3
            if land["why"] == "on_path":
                assert land["id"] in crossed and found["acquire_ha"] > 0.0
                assert land["inside_ha"] >= SLIVER_HA
            else:
                assert land["id"] == name
                assert land["inside_ha"] >= (1.0 - EDGE_SHARE) * found["acquire_ha"]
            # No more than what needs drainage, but for whole lots and the cells along the edges.
            edges = area.length * 10.0 / 10_000.0
            assert land["part"] == "all" or land["inside_ha"] <= in_need + edges + SLIVER_HA
            lands_seen += 1
        area = shapely.union_all(list(inside.values()))
        for other, (_, whole) in parcels.items():
            if other not in inside:
                strip = area.intersection(whole)
                assert strip.length == 0.0 or 2.0 * strip.area / strip.length < NOISE_M, (name, other)
        for left_out in record["left_out"]:
            assert left_out["hectares"] < SLIVER_HA and left_out["id"] in crossed
        for other in record["same_way"]:
            assert other["id"] not in inside and other["hectares"] <= parcels[other["id"]][0]["acquire_ha"] + 1e-3
    measured(f"{len(asked)} parcels asked about, {lands_seen} parcels in their areas")


def test_flow_that_the_area_adds(demonstration, parcels, tmp_path, measured):
    """Land that drains elsewhere raises the flow at an outlet as the removal curve has it, which goes with the area to the power of
    five sixths; a link that it passes today is not raised."""
    name = asked_parcels(parcels)[1]
    program.run("petition", demonstration.file, "--suggest", name, "--out", tmp_path / "area", "--quiet")
    area, outlet = tmp_path / "area/area.geojson", "D-07"
    program.run("petition", demonstration.file, "--area", area, "--outlet", outlet, "--out", tmp_path / "out", "--quiet")
    basin = json.loads((tmp_path / "out/petition.json").read_text())["basin"]
    assert basin["drains_to_outlet_ha"] == 0.0 and basin["adds_ha"] == pytest.approx(basin["area_ha"])
    program.run("capacity", demonstration.file, "--out", tmp_path / "capacity", "--quiet")
    links = {
        feature["properties"]["link_id"]: feature["properties"]
        for feature in json.loads((tmp_path / "capacity/capacity.geojson").read_text())["features"]
    }
    first = links[basin["lowest_link"]]
    assert first["method"] == "removal_curve" and first["tile_flow_m3_per_s"] == 0.0
    assert basin["flow_m3_s"] == first["flow_m3_per_s"]
    ratio = (1.0 + basin["adds_ha"] / first["surface_ha"]) ** (5.0 / 6.0)
    assert basin["flow_with_area_m3_s"] / basin["flow_m3_s"] == pytest.approx(ratio, rel=1e-4)
    # The area drains to the creek that the drain flows into: nothing is added below.
    names = [basin["lowest_link"]]
    while links[names[-1]]["next_link"] is not None:
        names.append(links[names[-1]]["next_link"])
    own = [link for link in names if link.startswith(outlet)]
    assert len(own) < len(names) and basin["first_too_small_with_area"] in (None, *own)
    # Water that is led to another drain is not in the creek twice: its links below have what they had.
    assert basin["first_too_small_with_area"] not in set(names) - set(own)
    measured(f"{basin['adds_ha']} ha raise {basin['flow_m3_s']} m³/s {ratio:.3f} times")


def test_proposals_on_random_cases_can_be_given_back(tmp_path, measured):
    """Lots that overlap roads and each other, have several parts, any winding and any reference system."""
    proposed = nothing = 0
    for seed in range(RANDOM_CASES):
        case = random_cases.random_case(seed)
        folder = tmp_path / f"{seed}"
        folder.mkdir()
        file = random_cases.write(case, folder / "case")
        names = list(case.parcels)[:3]
        for number, asked in enumerate([*([name] for name in names), names]):
            out, back = folder / f"proposed_{number}", folder / f"back_{number}"
            command = [program.BINARY, "petition", file, "--suggest", ",".join(asked), "--out", out, "--quiet"]
            done = subprocess.run(command, capture_output=True, text=True)
            if done.returncode == 2 and "no area to propose" in done.stderr:
                nothing += 1
                continue
            assert done.returncode == 0, (seed, asked, done.stderr)
            suggested = json.loads((out / "petition.json").read_text())["suggested"]
            lands = sorted((land["kind"], land["id"]) for land in suggested["lands"])
            assert counted_lands(out) == lands, (seed, asked)
            program.run("petition", file, "--area", out / "area.geojson", "--out", back, "--quiet")
            assert counted_lands(back) == lands, (seed, asked)
            proposed += 1
    assert proposed >= RANDOM_CASES
    measured(f"{proposed} areas proposed and given back, {nothing} requests without land in need of drainage")


def counted_lands(out):
    found = [land["properties"] for land in json.loads((out / "petition.geojson").read_text())["features"]]
    return sorted(("parcel", land["parcel_id"]) if land["parcel_id"] else ("road", land["road_id"]) for land in found)
