"""Mapped lines written in another order, under other ids, or drawn the wrong way: the water is the same."""

import itertools
import json
import random
import shutil

import numpy as np
import pytest
import rasterio
import shapely

import cases
import program
import projection
import test_cell_size
import test_gauged_creek

SIDE_M = 400.0
SEED = 20261201
# Outlines are written in degrees with nine decimals and may be off by a strip of their last digit.
A_FEW_CELLS_M2 = 300.0
# The program's documentation: no fewer cells can show a rise, and it must exceed twice the scatter about the grade and the doubt
# about a level. Without an accuracy stated that is 2 √2 times 0.1 m. Lines that rise clearly by a wide margin must all be turned.
FEWEST_CELLS = 5
CLEAR_RISE_M = 3.0
TIMES_SCATTER = 4.0


def lines_of(file):
    return json.loads((file.parent / "streams.geojson").read_text())


def write_lines(file, lines):
    (file.parent / "streams.geojson").write_text(json.dumps(lines))


def copied(folder, name, change):
    """The main job on a copy of the case whose lines are changed."""
    copy = folder.parent / name
    shutil.copytree(folder, copy, symlinks=True)
    file = copy / "case.toml"
    lines = lines_of(file)
    change(lines)
    write_lines(file, lines)
    return cases.outlets(file, copy / "out")


@pytest.fixture(scope="module")
def creek(real_data, tmp_path_factory):
    """The folder of the gauged creek with invented squares, and the main job on it."""
    folder = test_cell_size.creek(real_data, tmp_path_factory.mktemp("lines") / "creek", SIDE_M)
    return folder, copied(folder, "as_published", lambda lines: None)


def watersheds(case):
    return {feature["properties"]["outlet_id"]: feature["properties"]["area_ha"] for feature in case.features("watersheds")}


def hectares(case):
    keys = ("right_ha", "acquire_ha", "undecided_ha")
    return {f["properties"]["parcel_id"]: np.array([f["properties"][key] for key in keys]) for f in case.features("parcels")}


@pytest.mark.reference("numpy")
def test_other_ids_in_another_order_change_no_hectares(creek, measured):
    folder, published = creek
    rng = random.Random(SEED)
    ids = {}

    def rename(lines):
        features = lines["features"]
        names = [f"W{number:05}" for number in rng.sample(range(10_000), len(features))]
        for feature, name in zip(features, names, strict=True):
            ids[str(feature["properties"]["nhdplus_co"])] = name
            feature["properties"]["nhdplus_co"] = name
        rng.shuffle(features)

    other = copied(folder, "renamed", rename)
    expected, found = watersheds(published), watersheds(other)
    assert {ids[id]: area for id, area in expected.items()} == found
    before, after = hectares(published), hectares(other)
    assert all(np.array_equal(before[parcel], after[parcel]) for parcel in before)
    measured(f"{len(found)} watersheds and {len(before)} findings have the same hectares")


def whole_watershed(case, waterway, out):
    """All land above the lower end of a waterway."""
    program.run("watershed", case.file, "--outlet", waterway, "--out", out, "--overwrite")
    features = json.loads((out / "watershed.geojson").read_text())["features"]
    whole = [feature for feature in features if feature["properties"].get("part", "whole") == "whole"]
    polygons = [projection.from_lonlat(shapely.geometry.shape(feature["geometry"]), test_gauged_creek.CRS) for feature in whole]
    return shapely.union_all(polygons)


@pytest.mark.reference("shapely", "pyproj")
def test_the_watershed_of_a_tributary_ends_above_the_river(creek, tmp_path, measured):
    """What one line takes in above a junction and what another does are two parts, without common land, of what goes on from there."""
    _, case = creek
    reaches = [feature["properties"] for feature in case.features("reaches")]
    of_reach = {reach["reach_id"]: reach["waterway_id"] for reach in reaches}
    leaving = [reach for reach in reaches if of_reach.get(reach["to_reach"]) != reach["waterway_id"]]
    next_of = {reach["waterway_id"]: of_reach.get(reach["to_reach"]) for reach in leaving}
    land = {waterway: whole_watershed(case, waterway, tmp_path / "out") for waterway in next_of}
    pairs = [pair for pair in itertools.combinations(next_of, 2) if next_of[pair[0]] == next_of[pair[1]] is not None]
    assert pairs
    for one, other in pairs:
        common = land[one].intersection(land[other]).area
        assert common <= A_FEW_CELLS_M2, f"{one} and {other} share {common / 1e4:.2f} ha"
    beyond = {waterway: land[waterway].difference(land[river]).area for waterway, river in next_of.items() if river is not None}
    assert max(beyond.values()) <= A_FEW_CELLS_M2, beyond
    measured(f"{len(pairs)} pairs of lines that meet have no common land; {len(beyond)} watersheds lie in that of the line below")


def profile_of(line, dem):
    """Heights of the cells along a line, each once."""
    points = shapely.get_coordinates(shapely.segmentize(line, dem.res[0] / 4.0))
    cols, rows = ~dem.transform * (points[:, 0], points[:, 1])
    cells = np.column_stack((rows, cols)).astype(int)
    inside = (cells >= 0).all(axis=1) & (cells < dem.shape).all(axis=1)
    cells = cells[inside]
    changes = np.r_[True, (np.diff(cells, axis=0) != 0).any(axis=1)]
    rows, cols = cells[changes].T
    return dem.read(1)[rows, cols].astype(np.float64)


def falls_clearly(line, dem):
    heights = profile_of(line, dem)
    if heights.size < 2 * FEWEST_CELLS or not np.isfinite(heights).all():
        return False
    at = np.arange(heights.size)
    grade, level = np.polyfit(at, heights, 1)
    scatter = np.sqrt(np.square(heights - grade * at - level).sum() / (heights.size - 2))
    return -grade * (heights.size - 1) > max(CLEAR_RISE_M, TIMES_SCATTER * scatter)


@pytest.mark.reference("numpy", "shapely", "pyproj")
def test_a_fifth_of_the_lines_reversed(creek, measured):
    folder, published = creek
    rng = random.Random(SEED)
    features = lines_of(folder / "case.toml")["features"]
    chosen = set(rng.sample(range(len(features)), len(features) // 5))
    with rasterio.open(folder / "dem_10m.tif") as dem:
        clear = {
            str(features[number]["properties"]["nhdplus_co"])
            for number in chosen
            if falls_clearly(projection.from_lonlat(shapely.geometry.shape(features[number]["geometry"]), test_gauged_creek.CRS), dem)
        }

    def reverse(lines):
        for number in chosen:
            geometry = shapely.geometry.shape(lines["features"][number]["geometry"])
            lines["features"][number]["geometry"] = json.loads(shapely.to_geojson(shapely.reverse(geometry)))

    other = copied(folder, "reversed", reverse)
    turned = {
        warning["about"].removeprefix("waterway ")
        for warning in other.run["warnings"]
        if "drawn uphill" in warning["found"] and "the other way" in warning["done"]
    }
    assert clear <= turned, clear - turned
    before, after = hectares(published), hectares(other)
    changes = {parcel: np.abs(before[parcel] - after[parcel]).max() / before[parcel].sum() for parcel in before}
    most = max(changes.values())
    measured(
        f"{len(chosen)} of {len(features)} lines reversed, {len(clear)} of them with a clear fall, all of these turned back;"
        f" the hectares of a finding change by {most:.2%} at most"
    )
    if chosen_without_clear := len(chosen) - len(clear):
        measured(f"  {chosen_without_clear} without a clear fall run as drawn")
    assert most <= 0.01
