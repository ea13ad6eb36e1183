"""The strips along open drains of the demonstration against shapely's own buffers of the mapped lines."""

import tomllib

import pyogrio
import pytest
import shapely
from shapely.geometry import shape

import program
import projection

pytestmark = pytest.mark.reference("shapely", "pyproj")

# Bends are rounded in steps here and there.
TOLERANCE = 2e-3
LEAST_HA = 0.01


@pytest.fixture(scope="module")
def lines(demonstration):
    """Lines, widths and classes of the mapped waterways by id, in the parcels' reference system."""
    crs, _ = demonstration.parcel_polygons()
    found = {}
    for table in demonstration.settings["waterways"]:
        meta, _, geometry, values = pyogrio.raw.read(demonstration.file.parent / table["source"])
        columns = dict(zip(meta["fields"], values, strict=True))
        for number, line in enumerate(projection.transform(shapely.from_wkb(geometry), meta["crs"], crs)):
            kind = table.get("class") or columns[table["class_field"]][number]
            found[str(columns[table["id"]][number])] = line, float(columns[table["width_m"]][number]), kind
    return found


def test_strips_equal_buffers_of_the_lines(demonstration, lines, measured):
    profile = tomllib.loads((program.ROOT / "crates/law/profiles/ontario.toml").read_text())["buffer"]
    width = profile["width_m"]["value"]
    crs, parcels = demonstration.parcel_polygons()
    reported = {(s["properties"]["parcel_id"], s["properties"]["waterway_id"]): s for s in demonstration.features("buffers")}
    compared = 0
    for id, (line, bed, kind) in lines.items():
        half = bed / 2.0
        strip = line.buffer(half + width, cap_style="flat", quad_segs=32)
        if half > 0.0:
            strip = strip.difference(line.buffer(half, cap_style="flat", quad_segs=32))
        for parcel, polygon in parcels.items():
            expected = polygon.intersection(strip).area / 10_000.0 if kind in profile["classes"] else 0.0
            found = reported.get((parcel, id))
            if found is None:
                assert expected < LEAST_HA, (parcel, id, expected)
                continue
            properties = found["properties"]
            assert abs(properties["buffer_ha"] - expected) <= TOLERANCE * expected + 1e-4, (parcel, id, expected, properties)
            drawn = projection.from_lonlat(shape(found["geometry"]), crs)
            assert abs(drawn.area / 10_000.0 - properties["buffer_ha"]) <= 1e-4, (parcel, id)
            assert (properties["cropped_ha"] or 0.0) <= properties["buffer_ha"] + 1e-6
            assert properties["measured_from"] == ("top_of_bank" if bed else "centre_line")
            compared += 1
    assert compared > 10
    measured(f"{compared} strips of {len(lines)} waterways, within {TOLERANCE:.1%}")


def test_cropped_hectares_are_those_in_fields(demonstration, measured):
    crs, _ = demonstration.parcel_polygons()
    table = demonstration.settings["fields"]
    meta, _, geometry, (owners,) = pyogrio.raw.read(demonstration.file.parent / table["source"], columns=[table["parcel"]])
    fields = projection.transform(shapely.from_wkb(geometry), meta["crs"], crs)
    total = 0.0
    for strip in demonstration.features("buffers"):
        own = [field for field, parcel in zip(fields, owners, strict=True) if parcel == strip["properties"]["parcel_id"]]
        if not own:
            assert strip["properties"]["cropped_ha"] is None, strip["properties"]
            continue
        drawn = projection.from_lonlat(shape(strip["geometry"]), crs)
        expected = drawn.intersection(shapely.union_all(own)).area / 10_000.0
        assert abs(strip["properties"]["cropped_ha"] - expected) <= 1e-4, strip["properties"]
        total += expected
    assert total > 0.0
    measured(f"{total:.2f} ha of fields within the strips")
