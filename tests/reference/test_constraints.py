"""What paths and parcels of the demonstration meet of its constraints against shapely, from the layers as they are given."""

import math
from dataclasses import dataclass

import pyogrio
import pytest
import shapely
from shapely.geometry import shape

import projection

pytestmark = pytest.mark.reference("shapely", "pyproj")

# Of coordinates in degrees to nine places and of lengths to the millimetre; ends of buffers are rounded in steps.
LENGTH_M = 0.02
AREA_HA = 1e-4
QUARTER_CIRCLE_STEPS = 512


@dataclass(frozen=True)
class Constraint:
    kind: str
    id: str
    name: str
    given_class: str | None
    shape: shapely.Geometry

    def is_area(self):
        return self.shape.geom_type in ("Polygon", "MultiPolygon")

    def met_by(self, path, reach):
        """Metres of a path that meets it, and in how many stretches."""
        if path is None:
            return 0.0, 0
        zone = self.shape if self.is_area() else self.shape.buffer(reach, quad_segs=QUARTER_CIRCLE_STEPS)
        on_it = shapely.line_merge(shapely.MultiLineString(lines_of(path.intersection(zone))))
        return on_it.length, len(lines_of(on_it))

    def within(self, parcel):
        """Hectares of a parcel inside it, or metres of it on the parcel."""
        common = self.shape.intersection(parcel)
        return common.area / 10_000.0 if self.is_area() else common.length


def lines_of(geometry):
    return [part for part in shapely.get_parts(geometry) if part.geom_type == "LineString" and part.length > 0.0]


@pytest.fixture(scope="module")
def crs(demonstration):
    return demonstration.parcel_polygons()[0]


@pytest.fixture(scope="module")
def given(demonstration, crs):
    """The constraints of the case's layers in the parcels' reference system, in their order."""
    found = []
    for table in demonstration.settings["constraints"]:
        meta, _, geometry, values = pyogrio.raw.read(demonstration.file.parent / table["source"])
        columns = dict(zip(meta["fields"], values, strict=True))
        for number, drawn in enumerate(projection.transform(shapely.from_wkb(geometry), meta["crs"], crs)):
            texts = [columns[table[key]][number] if key in table else None for key in ("id", "name", "class")]
            found.append(Constraint(table["kind"], *texts, drawn))
    return found


@pytest.fixture(scope="module")
def reach(demonstration):
    """The diagonal of a cell."""
    return math.hypot(*demonstration.rasters.cell)


@pytest.fixture(scope="module")
def paths(demonstration, crs):
    """Each path's properties and line; no line where it has no length."""
    return [
        (path["properties"], projection.from_lonlat(shape(path["geometry"]), crs) if path["properties"]["path_m"] > 0.0 else None)
        for path in demonstration.features("paths")
    ]


def items(properties):
    listed = {item["id"]: item for item in properties["constraints"]}
    assert len(listed) == len(properties["constraints"]), properties
    return listed


def compare(item, constraint, metres, places):
    """Whether an item agrees with a stretch of a path; nothing listed is no stretch."""
    if item is None:
        assert metres <= LENGTH_M, (constraint, metres)
        return
    assert (item["kind"], item["name"], item["class"]) == (constraint.kind, constraint.name, constraint.given_class)
    assert abs(item["metres"] - metres) <= LENGTH_M, (item, metres)
    assert item["places"] == places, (item, places)


def test_constraints_on_paths_are_those_of_their_lines(given, reach, paths, measured):
    met = {constraint.kind: 0 for constraint in given}
    longest = 0.0
    for properties, line in paths:
        listed = items(properties)
        assert set(listed) <= {constraint.id for constraint in given}
        for constraint in given:
            metres, places = constraint.met_by(line, reach)
            item = listed.get(constraint.id)
            compare(item, constraint, metres, places)
            if item is not None:
                assert item["hectares"] is None and item["line_m"] is None
                met[constraint.kind] += 1
                longest = max(longest, metres)
    assert all(count > 0 for count in met.values()), met
    counts = ", ".join(f"{count} {kind}" for kind, count in met.items())
    measured(f"{len(paths)} paths meet {counts}; the longest for {longest:.1f} m; all within {LENGTH_M} m")


def test_constraints_on_parcels_are_those_of_their_polygons(demonstration, given, reach, paths, measured):
    _, polygons = demonstration.parcel_polygons()
    main = {properties["parcel_id"]: line for properties, line in paths if properties["main"]}
    areas, lengths = 0.0, 0.0
    for feature in demonstration.features("parcels"):
        properties = feature["properties"]
        listed = items(properties)
        for constraint in given:
            item = listed.get(constraint.id)
            inside = constraint.within(polygons[properties["parcel_id"]])
            tolerance = AREA_HA if constraint.is_area() else LENGTH_M
            if properties["parcel_id"] in main:
                compare(item, constraint, *constraint.met_by(main[properties["parcel_id"]], reach))
            if item is None:
                assert inside <= tolerance, (properties["parcel_id"], constraint, inside)
                continue
            found, other = ("hectares", "line_m") if constraint.is_area() else ("line_m", "hectares")
            assert item[other] is None and abs((item[found] or 0.0) - inside) <= tolerance, (item, inside)
            areas += inside if constraint.is_area() else 0.0
            lengths += 0.0 if constraint.is_area() else inside
    assert areas > 0.0 and lengths > 0.0
    measured(f"{areas:.2f} ha of areas and {lengths:.0f} m of lines on {len(polygons)} parcels")
