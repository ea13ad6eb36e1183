"""Overlapping parcels: one far above any sliver is refused, a sliver is listed, both with the parcels and the area of shapely."""

import re

import numpy as np
import pytest
import shapely

import cases
import program

pytestmark = pytest.mark.reference("shapely")

STRIP_M = 60.0
SQUARE_METRES_PER_HECTARE = 10_000.0
# Half of the last digit in messages with two decimals of a hectare.
ROUNDING_HA = 0.005
# The same for two decimals of a square metre or a metre, and room for the difference of two computations.
ROUNDING = 0.005 + 1e-6
# Below the last digit shown; where parcels only touch, rounding in floating point leaves crumbs.
SMALLEST_SQUARE_METRES = 0.005
SLIVER = re.compile(r"an overlap of (\S+) m², (\S+) m wide")


@pytest.fixture
def overlapping(demonstration, tmp_path):
    """A copy of the demonstration in which one parcel also claims a strip of its neighbour: case file, ids, hectares."""
    file, layer = cases.copy_with_parcels(demonstration, tmp_path / "case")
    polygons = layer.polygons
    one, other = cases.neighbours(polygons)
    polygons[one] = polygons[one].union(polygons[one].buffer(STRIP_M).intersection(polygons[other]))
    layer.write()
    claimed_twice = polygons[one].intersection(polygons[other]).area / SQUARE_METRES_PER_HECTARE
    return file, (layer.ids[one], layer.ids[other]), claimed_twice


def test_a_large_overlap_is_refused_with_its_area(overlapping, measured):
    case, ids, hectares = overlapping
    message = program.run("check", case, exit_code=3).stderr
    lines = [line for line in message.splitlines() if all(str(id) in line for id in ids)]
    assert lines, f"no line names both {ids[0]} and {ids[1]}:\n{message}"
    numbers = np.array([float(text) for line in lines for text in re.findall(r"\d+\.\d+", line)])
    off = np.minimum(np.abs(numbers - hectares), np.abs(numbers / SQUARE_METRES_PER_HECTARE - hectares))
    assert off.size and off.min() <= ROUNDING_HA, f"{hectares:.4f} ha not in: {lines}"
    measured(f"parcels {ids[0]} and {ids[1]} claim {hectares:.4f} ha twice; the refusal says so")


def test_slivers_are_listed_with_their_areas(demonstration, measured):
    _, parcels = demonstration.parcel_polygons()
    ids, polygons = zip(*sorted(parcels.items()), strict=True)
    expected = {}
    for one, other in shapely.STRtree(polygons).query(polygons, predicate="intersects").T:
        common = polygons[one].intersection(polygons[other])
        if one < other and common.area > SMALLEST_SQUARE_METRES:
            # Twice the area over the perimeter: for a long strip, its width.
            expected[ids[one], ids[other]] = common.area, 2.0 * common.area / common.length
    assert expected, "the demonstration has lines surveyed twice"
    found = {}
    for warning in demonstration.run["warnings"]:
        if sliver := SLIVER.fullmatch(warning["found"]):
            pair = tuple(warning["about"].removeprefix("parcels ").split(" and "))
            found[pair] = tuple(map(float, sliver.groups()))
    assert found.keys() == expected.keys()
    off = np.abs(np.array([found[pair] for pair in expected]) - np.array(list(expected.values())))
    assert off.max() <= ROUNDING, (found, expected)
    measured("; ".join(f"{one} and {other}: {area:.2f} m²" for (one, other), (area, _) in expected.items()))
