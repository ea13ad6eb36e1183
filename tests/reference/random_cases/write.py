"""Writes a random case: its rasters, layers, documents and case file."""

import csv
import json

import numpy as np
import pyogrio
import rasterio
import shapely
from rasterio.transform import from_origin

DRIVERS = {"gpkg": "GPKG", "shp": "ESRI Shapefile", "fgb": "FlatGeobuf"}
LEVEL_COLUMNS = ("feature", "x", "y", "kind", "level_m", "date", "datum")
SECTION_COLUMNS = (
    "drain", "x", "y", "kind", "bottom_m", "side_slope", "depth_m", "points", "bed_m", "n", "grade_percent", "date", "datum",
)  # fmt: skip
RAINFALL_COLUMNS = ("duration_min", "return_period_years", "depth_mm", "intensity_mm_per_h", "source")


def write(case, folder):
    """Returns the case file."""
    folder.mkdir()
    write_elevation(case, folder)
    text = ['name = "An invented case"', *table("[terrain]", {"elevation": elevation_names(case), "vertical_unit": case.unit} | case.tables["terrain"])]
    if case.kept:
        text.append(f"keep_depressions = {quoted(layer(case, folder, 'kept', [(area, {'n': 'kept'}) for area in case.kept]))}")
    text += table("[rules]", case.tables["rules"]) + table("[capacity]", case.tables["capacity"])
    text += land_tables(case, folder) + water_tables(case, folder) + document_tables(case, folder)
    (folder / "case.toml").write_text("\n".join(text) + "\n")
    return folder / "case.toml"


def land_tables(case, folder):
    lots = [(lot, {"roll": id, "owner": case.owners[id]}) for id, lot in case.parcels.items()]
    source = {"source": layer(case, folder, "parcels", lots), "id": "roll", "owner": "owner"}
    text = table("[parcels]", source | case.tables["parcels"])
    if case.roads:
        fields = [(road.polygon, {"road": road.id, "name": road.name, "kept_by": road.authority}) for road in case.roads]
        names = {"id": "road", "name": "name", "authority": "kept_by"}
        text += table("[roads]", {"source": layer(case, folder, "roads", fields)} | names)
    if case.fields:
        fields = [(polygon, {"field": id, "roll": parcel}) for id, parcel, polygon in case.fields]
        text += table("[fields]", {"source": layer(case, folder, "fields", fields), "id": "field", "parcel": "roll"})
    if case.soils:
        soils = [(polygon, {"group": group}) for group, polygon in case.soils]
        text += table("[soils]", {"source": layer(case, folder, "soils", soils), "group": "group"})
    return text


def water_tables(case, folder):
    text = []
    names = {"id": "id", "class_field": "kind", "width_m": "width", "members": "parties", "registered": "on_title", "agreed": "made"}
    for name, is_polygon in (("waterways", False), ("waters", True)):
        features = [(way.shape, waterway_fields(way)) for way in case.waterways if bool(way.polygons) == is_polygon]
        if features:
            text += table("[[waterways]]", {"source": layer(case, folder, name, features)} | names)
    for kind in ("culverts", "pipes"):
        found = [way for way in case.structures if (way.kind == "culvert") == (kind == "culverts")]
        if found:
            write_geojson(folder / f"{kind}.geojson", [(way.line, structure_fields(way)) for way in found], case.grid.crs)
            text += table(f"[[{kind}]]", {"source": f"{kind}.geojson"})
    if case.tiled:
        tiled = [(polygon, {"main": pipe}) for pipe, polygon in case.tiled]
        text += table("[tiled_areas]", {"source": layer(case, folder, "tiled", tiled), "pipe": "main"})
    return text


def waterway_fields(way):
    return {
        "id": way.id,
        "kind": way.kind,
        "width": None if way.width_m is None else str(way.width_m),
        "parties": way.parties and ";".join(way.parties),
        "on_title": {None: None, True: "yes", False: "no"}[way.registered],
        "made": way.agreed,
    }


def structure_fields(way):
    inverts = dict(zip(("invert_up_m", "invert_down_m"), way.inverts or (None, None), strict=True))
    return {"id": way.id, "class": None if way.kind == "culvert" else way.kind or None} | way.sizes | inverts


def document_tables(case, folder):
    text = []
    for drain, assessed in case.schedules.items():
        write_csv(folder / f"{drain}.csv", ("roll", "ha"), [{"roll": id, "ha": hectares} for id, hectares in assessed.items()])
        text += table("[[schedules]]", {"source": f"{drain}.csv", "drain": drain, "parcel": "roll", "hectares": "ha"})
    if case.levels:
        write_csv(folder / "levels.csv", LEVEL_COLUMNS, case.levels)
        text += table("[[levels]]", {"source": "levels.csv"})
    if case.sections:
        write_csv(folder / "sections.csv", SECTION_COLUMNS, case.sections)
        text += table("[[sections]]", {"source": "sections.csv"})
    if case.rainfall:
        rain = [
            {"duration_min": minutes, "return_period_years": years, "depth_mm": depth, "source": "invented"}
            for minutes, depth in ((10, 12), (60, 30), (360, 48), (1440, 70))
            for years in (2, 5, 10)
        ]
        write_csv(folder / "rainfall.csv", RAINFALL_COLUMNS, rain)
        text += table("[rainfall]", {"source": "rainfall.csv"})
    return text


def elevation_names(case):
    return ["dem.tif"] if case.storage["tiles"] == (1, 1) else ["dem/*.tif"]


def write_elevation(case, folder):
    grid, (down, across) = case.grid, case.storage["tiles"]
    if (down, across) == (1, 1):
        return write_tile(case, folder / "dem.tif", slice(0, grid.shape[0]), slice(0, grid.shape[1]))
    (folder / "dem").mkdir()
    middle = [(0, side // 2, side) if parts == 2 else (0, side) for side, parts in zip(grid.shape, (down, across), strict=True)]
    for top, bottom in zip(middle[0], middle[0][1:]):
        for left, right in zip(middle[1], middle[1][1:]):
            write_tile(case, folder / f"dem/{top}_{left}.tif", slice(top, bottom), slice(left, right))


def write_tile(case, path, rows, cols):
    grid, nodata = case.grid, case.storage["nodata"]
    part = case.ground[rows, cols]
    west, north = grid.at(cols.start, rows.start)
    profile = {
        "driver": "GTiff",
        "width": part.shape[1],
        "height": part.shape[0],
        "count": 1,
        "dtype": case.storage["dtype"],
        "crs": grid.crs,
        "transform": from_origin(west, north, *grid.cell),
        "nodata": nodata,
    }
    with rasterio.open(path, "w", **profile) as dataset:
        dataset.write(np.where(np.isnan(part), nodata, part).astype(case.storage["dtype"]), 1)


def layer(case, folder, name, features):
    """Writes polygons or lines with their text fields in the layer's format; returns the name of its file."""
    kind = case.formats[name]
    path = folder / f"{name}.{kind}"
    if kind == "geojson":
        write_geojson(path, features, case.grid.crs)
        return path.name
    kinds = {geometry.geom_type.removeprefix("Multi") for geometry, _ in features}
    (geometry_type,) = kinds
    several = any(geometry.geom_type.startswith("Multi") for geometry, _ in features) and kind != "shp"
    make = {"Polygon": shapely.MultiPolygon, "LineString": shapely.MultiLineString}[geometry_type]
    geometries = [make(list(shapely.get_parts(geometry))) if several else geometry for geometry, _ in features]
    fields = list(features[0][1])
    values = [np.array([properties[field] for _, properties in features], dtype=object) for field in fields]
    pyogrio.raw.write(
        path,
        shapely.to_wkb(geometries),
        values,
        fields,
        geometry_type=f"Multi{geometry_type}" if several else geometry_type,
        crs=case.grid.crs,
        driver=DRIVERS[kind],
        encoding="UTF-8",
    )
    return path.name


def write_geojson(path, features, crs):
    crs = {"type": "name", "properties": {"name": f"urn:ogc:def:crs:EPSG::{crs.removeprefix('EPSG:')}"}}
    features = [{"type": "Feature", "properties": fields, "geometry": json.loads(shapely.to_geojson(g))} for g, fields in features]
    path.write_text(json.dumps({"type": "FeatureCollection", "crs": crs, "features": features}))


def write_csv(path, columns, rows):
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)


def table(header, entries):
    return [header, *(f"{key} = {quoted(value)}" for key, value in entries.items())]


def quoted(value):
    """A value in TOML."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {quoted(item)}" for key, item in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)
