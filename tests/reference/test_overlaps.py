"""Overlapping parcels: an overlap far above any sliver is refused, with the two parcels and the area that shapely finds."""

import itertools
import re
import shutil

import numpy as np
import pyogrio
import pytest
import shapely

import program

pytestmark = pytest.mark.reference("shapely")

STRIP_M = 60.0
SHARED_BOUNDARY_M = 100.0
SQUARE_METRES_PER_HECTARE = 10_000.0
# Half of the last digit in messages with two decimals of a hectare.
ROUNDING_HA = 0.005


def neighbours(polygons):
    """The positions of two parcels with a long common boundary."""
    for one, other in itertools.combinations(range(len(polygons)), 2):
        if polygons[one].touches(polygons[other]):
            if polygons[one].intersection(polygons[other]).length > SHARED_BOUNDARY_M:
                return one, other
    raise AssertionError("no two parcels share a long boundary")


@pytest.fixture
def overlapping(demonstration, tmp_path):
    """A copy of the demonstration in which one parcel also claims a strip of its neighbour: case file, ids, hectares."""
    shutil.copytree(demonstration.file.parent, tmp_path / "case")
    settings = demonstration.settings["parcels"]
    source = tmp_path / "case" / settings["source"]
    meta, _, geometry, values = pyogrio.raw.read(source, layer=settings.get("layer"))
    polygons = shapely.from_wkb(geometry)
    one, other = neighbours(polygons)
    strip = polygons[one].buffer(STRIP_M).intersection(polygons[other])
    polygons[one] = polygons[one].union(strip)
    layer = settings.get("layer", source.stem)
    source.unlink()
    pyogrio.raw.write(
        source,
        shapely.to_wkb(polygons),
        values,
        meta["fields"],
        geometry_type=meta["geometry_type"],
        crs=meta["crs"],
        layer=layer,
    )
    ids = values[list(meta["fields"]).index(settings["id"])]
    claimed_twice = polygons[one].intersection(polygons[other]).area / SQUARE_METRES_PER_HECTARE
    return tmp_path / "case" / demonstration.file.name, (ids[one], ids[other]), claimed_twice


def test_a_large_overlap_is_refused_with_its_area(overlapping, measured):
    case, ids, hectares = overlapping
    message = program.run("check", case, exit_code=3).stderr
    lines = [line for line in message.splitlines() if all(str(id) in line for id in ids)]
    assert lines, f"no line names both {ids[0]} and {ids[1]}:\n{message}"
    numbers = np.array([float(text) for line in lines for text in re.findall(r"\d+\.\d+", line)])
    off = np.minimum(np.abs(numbers - hectares), np.abs(numbers / SQUARE_METRES_PER_HECTARE - hectares))
    assert off.size and off.min() <= ROUNDING_HA, f"{hectares:.4f} ha not in: {lines}"
    measured(f"parcels {ids[0]} and {ids[1]} claim {hectares:.4f} ha twice; the refusal says so")
