"""Files: the record of a run, GeoJSON, schemas."""

import hashlib
import itertools
import json
from functools import cache

import jsonschema
import numpy as np
import pyogrio
import shapely
from shapely.geometry import shape

import program
import projection

# Square metres; cells are larger by far, and lots are cut to the millimetre.
LEAST_RING = 1e-4
ON_MAP_M = 0.02
CRUMB = 0.1
"""Overlaps of less are not listed, as the program states."""


def problems(case, out):
    yield from record(out)
    for path in sorted(out.glob("*.geojson")):
        for problem in collection(case, path):
            yield f"{path.name}: {problem}"


def schemas(out):
    for path in [*sorted(out.glob("*.geojson")), out / "run.json"]:
        yield from schema(path)


def record(out):
    run = json.loads((out / "run.json").read_text())
    listed = {item["name"]: item["sha256"] for item in run["outputs"]}
    there = {str(path.relative_to(out)) for path in out.rglob("*") if path.is_file()} - {"run.json"}
    if listed.keys() != there:
        yield f"run.json lists {sorted(listed.keys() ^ there)} and the folder does not, or the other way round"
    for name in listed.keys() & there:
        if hashlib.sha256((out / name).read_bytes()).hexdigest() != listed[name]:
            yield f"run.json: the digest of {name} is not that of the file"


def inputs(folder, out):
    """Every file of the case is an input with its digest."""
    run = json.loads((out / "run.json").read_text())
    for item in run["inputs"]:
        path = folder / item["name"]
        if path.is_file() and hashlib.sha256(path.read_bytes()).hexdigest() != item["sha256"]:
            yield f"run.json: the digest of the input {item['name']} is not that of the file"
    named = {item["name"] for item in run["inputs"]}
    layers = {path.name for path in folder.iterdir() if path.suffix in (".geojson", ".gpkg", ".shp", ".fgb", ".csv", ".tif")}
    if missing := {name for name in layers if not any(item.endswith(name) for item in named)}:
        yield f"run.json: no digest of the inputs {sorted(missing)}"


def collection(case, path):
    features = json.loads(path.read_text())["features"]
    around = projection.to_lonlat(case.grid.box.buffer(20.0 * max(case.grid.shape) * max(case.grid.cell)), case.grid.crs)
    west, south, east, north = around.bounds
    for number, feature in enumerate(features, 1):
        if feature["geometry"] is None:
            continue
        geometry = shape(feature["geometry"])
        if not shapely.box(west, south, east, north).covers(geometry):
            yield f"feature {number} lies outside the case's area: {geometry.bounds}"
        if not geometry.is_valid:
            yield f"feature {number} is invalid: {shapely.is_valid_reason(geometry)}"
        yield from rings(case, number, geometry)
        if "LineString" in geometry.geom_type and geometry.length == 0.0:
            yield f"feature {number} is a line without length"


def rings(case, number, geometry):
    for polygon in shapely.get_parts(geometry):
        if polygon.geom_type != "Polygon":
            return
        if not polygon.exterior.is_ccw or any(hole.is_ccw for hole in polygon.interiors):
            yield f"feature {number}: rings the wrong way round (RFC 7946)"
        for ring in (polygon.exterior, *polygon.interiors):
            area = projection.from_lonlat(shapely.Polygon(ring), case.grid.crs).area
            if not np.isfinite(area) or area < LEAST_RING:
                yield f"feature {number}: a ring of {area} square metres"


@cache
def validator(name):
    schema = json.loads((program.ROOT / f"crates/report/schema/{name}.schema.json").read_text())
    return jsonschema.validators.validator_for(schema)(schema)


def schema(path):
    for error in validator(path.stem).iter_errors(json.loads(path.read_text())):
        yield f"{path.name} at {error.json_path}: {error.message}"[:300]


def counts(walked):
    """Counts of the main job beside its layers."""
    found = walked.run["counts"]
    standings = [parcel["standing"] for parcel in walked.parcels.values()]
    changes = walked.properties("terrain_changes")
    expected = {
        "parcels": len(walked.parcels),
        **{word: standings.count(word) for word in ("right", "right_in_part", "acquire", "undecided")},
        "reaches": len(walked.layers["reaches"]),
        "structures": len(walked.layers["links"]),
        "terrain_changes": len(changes),
        "suspected_culverts": sum(change["suspected_culvert"] for change in changes),
        "suspected_culverts_of_consequence": sum(change["rank"] is not None for change in changes),
        "depressions_kept": sum(change["kind"] == "kept" for change in changes),
    }
    for name, value in expected.items():
        if found[name] != value:
            yield f"run.json: counts.{name} is {found[name]}, the layers have {value}"
    least, most = slivers(walked.case)
    if not least <= found["slivers"] <= most:
        yield f"run.json: counts.slivers is {found['slivers']}, {least} to {most} lots overlap"
    for word in ("right", "acquire", "undecided"):
        total = sum(parcel[f"{word}_ha"] for parcel in walked.parcels.values())
        if abs(found[f"{word}_ha"] - total) > 1e-5:
            yield f"run.json: counts.{word}_ha is {found[f'{word}_ha']}, the parcels have {total:.6f}"


def geopackage(walked):
    """The GeoPackage holds the same features as the GeoJSON, in the case's own system."""
    path = walked.out / "fallwright.gpkg"
    if not path.is_file():
        return
    layers = dict(pyogrio.list_layers(path))
    for name, features in walked.written.items():
        if name not in layers:
            yield f"fallwright.gpkg: no layer {name}"
            continue
        _, _, geometry, _ = pyogrio.raw.read(path, layer=name, columns=[])
        if len(geometry) != len(features):
            yield f"fallwright.gpkg: {len(geometry)} features in {name}, {len(features)} in its GeoJSON"
            continue
        for number, (feature, projected) in enumerate(zip(features, shapely.from_wkb(geometry), strict=True), 1):
            if (feature["geometry"] is None) != (projected is None):
                yield f"fallwright.gpkg: feature {number} of {name} has a geometry in one of the two alone"
            elif projected is not None and not close(walked.on_map(feature["geometry"]), projected):
                yield f"fallwright.gpkg: feature {number} of {name} lies elsewhere than in its GeoJSON"


def close(one, other):
    ways = [shapely.get_coordinates(geometry) for geometry in (one, other)]
    if len(ways[0]) != len(ways[1]):
        return False
    # Rings may begin and run otherwise.
    return np.abs(np.sort(ways[0], axis=0) - np.sort(ways[1], axis=0)).max() < ON_MAP_M


def slivers(case):
    """Overlaps that are listed, and those that may be: a strip of a millimetre's width is a matter of rounding. Lots that keep
    the millimetre of their corners as their precision would be overlaid to the millimetre too, which hides such strips."""
    lots = [shapely.set_precision(lot, 0.0) for lot in case.parcels.values()]
    areas = [one.intersection(other).area for one, other in itertools.combinations(lots, 2)]
    return sum(area > 10.0 * CRUMB for area in areas), sum(area > 0.1 * CRUMB for area in areas)
