"""GeoJSON as RFC 7946 has it: longitude and latitude, no `crs`, exterior rings counter-clockwise; nothing shifted."""

import json

import numpy as np
import pyproj
import pytest
import shapely
from shapely.geometry import shape

import projection

# RFC 7946 section 4: WGS 84 longitude and latitude in degrees.
WORLD = shapely.box(-180, -90, 180, 90)
MILLIMETRE = 0.001


def outputs(demonstration):
    return sorted(demonstration.out.glob("*.geojson"))


@pytest.mark.reference("shapely")
def test_longitude_latitude_without_crs_member(demonstration, measured):
    crs, parcels = demonstration.parcel_polygons()
    west, south, east, north = projection.to_lonlat(shapely.union_all(list(parcels.values())), crs).bounds
    surroundings = shapely.box(west - 0.1, south - 0.1, east + 0.1, north + 0.1)
    for output in outputs(demonstration):
        collection = json.loads(output.read_text())
        assert collection["type"] == "FeatureCollection"
        assert "crs" not in collection, f"{output.name} has a crs member"
        for feature in collection["features"]:
            if feature["geometry"] is not None:
                assert surroundings.intersection(WORLD).covers(shape(feature["geometry"])), (output.name, feature)
    measured(", ".join(output.name for output in outputs(demonstration)))


@pytest.mark.reference("shapely")
def test_exteriors_counter_clockwise_and_holes_clockwise(demonstration, measured):
    polygons = 0
    for output in outputs(demonstration):
        for feature in json.loads(output.read_text())["features"]:
            if feature["geometry"] is None or "Polygon" not in feature["geometry"]["type"]:
                continue
            for polygon in shapely.get_parts(shape(feature["geometry"])):
                polygons += 1
                assert polygon.exterior.is_ccw, (output.name, feature["properties"])
                assert not any(hole.is_ccw for hole in polygon.interiors), (output.name, feature["properties"])
    assert polygons > 0
    measured(f"{polygons} polygons")


@pytest.mark.reference("pyproj", "shapely")
def test_parcels_project_back_to_their_source_within_a_millimetre(demonstration, measured):
    crs, sources = demonstration.parcel_polygons()
    features = demonstration.features("parcels")
    assert {feature["properties"]["parcel_id"] for feature in features} == set(sources)
    farthest = 0.0
    for feature in features:
        source = shapely.get_coordinates(sources[feature["properties"]["parcel_id"]])
        found = shapely.get_coordinates(projection.from_lonlat(shape(feature["geometry"]), crs))
        assert len(found) == len(source), feature["properties"]["parcel_id"]
        apart = np.hypot(*(found[:, None, :] - source[None, :, :]).transpose(2, 0, 1))
        farthest = max(farthest, apart.min(axis=1).max(), apart.min(axis=0).max())
    assert farthest < MILLIMETRE
    measured(f"{len(features)} parcels, farthest corner off by {farthest * 1000:.4f} mm (PROJ {pyproj.proj_version_str})")
