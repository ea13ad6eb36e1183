"""Case files: writing one, running the main job on it, reading what it wrote."""

import itertools
import json
import shutil
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pyogrio
import shapely

import program
import projection
import rasters
from road_lands import Road

SHARED_BOUNDARY_M = 100.0


@dataclass(frozen=True)
class Case:
    """A case file and the folder with the outputs of `fallwright outlets`."""

    file: Path
    out: Path

    @cached_property
    def settings(self):
        return tomllib.loads(self.file.read_text())

    @cached_property
    def rasters(self):
        return rasters.read(self.out)

    def features(self, name):
        """The features of one GeoJSON output, such as `parcels`."""
        return json.loads((self.out / f"{name}.geojson").read_text())["features"]

    @cached_property
    def run(self):
        return json.loads((self.out / "run.json").read_text())

    def parcel_polygons(self):
        """The CRS of the case's own parcel layer, and its polygons by the text of their id."""
        settings = self.settings["parcels"]
        meta, _, geometry, (ids,) = pyogrio.raw.read(
            self.file.parent / settings["source"], layer=settings.get("layer"), columns=[settings["id"]]
        )
        return meta["crs"], dict(zip(map(str, ids), shapely.from_wkb(geometry), strict=True))

    def roads(self):
        """The CRS of the case's own road layer, and its features."""
        settings = self.settings["roads"]
        columns = [settings[name] for name in ("id", "name", "authority")]
        meta, _, geometry, values = pyogrio.raw.read(self.file.parent / settings["source"], layer=settings.get("layer"), columns=columns)
        by_name = dict(zip(meta["fields"], values, strict=True))
        polygons = shapely.from_wkb(geometry)
        return meta["crs"], [Road(*given) for given in zip(polygons, *(by_name[column] for column in columns), strict=True)]


def outlets(file, out):
    program.run("outlets", file, "--out", out, "--overwrite")
    return Case(Path(file), Path(out))


@dataclass
class ParcelLayer:
    """The parcel layer of a case, to be changed and written back."""

    source: Path
    meta: dict
    values: list
    polygons: np.ndarray
    ids: np.ndarray
    name: str

    def write(self):
        self.source.unlink()
        pyogrio.raw.write(
            self.source,
            shapely.to_wkb(self.polygons),
            self.values,
            self.meta["fields"],
            geometry_type=self.meta["geometry_type"],
            crs=self.meta["crs"],
            layer=self.name,
        )


def copy_with_parcels(case, folder):
    """Copies a case into a folder; returns the copy's case file and its parcel layer."""
    shutil.copytree(case.file.parent, folder)
    settings = case.settings["parcels"]
    source = folder / settings["source"]
    meta, _, geometry, values = pyogrio.raw.read(source, layer=settings.get("layer"))
    ids = values[list(meta["fields"]).index(settings["id"])]
    name = settings.get("layer", source.stem)
    return folder / case.file.name, ParcelLayer(source, meta, values, shapely.from_wkb(geometry), ids, name)


def neighbours(polygons):
    """The positions of two polygons with a long common boundary."""
    for one, other in itertools.combinations(range(len(polygons)), 2):
        if polygons[one].touches(polygons[other]):
            if polygons[one].intersection(polygons[other]).length > SHARED_BOUNDARY_M:
                return one, other
    raise AssertionError("no two parcels share a long boundary")


def write_square_parcels(path, covered, crs, side):
    """Invented square parcels of `side` metres, all inside the polygon `covered`; returns how many."""
    west, south, east, north = covered.bounds
    squares = [
        shapely.box(x, y, x + side, y + side)
        for y in np.arange(south, north, side)
        for x in np.arange(west, east, side)
    ]
    inside = np.array(squares)[shapely.covers(covered, squares)]
    ids = np.array([f"P{number:04}" for number in range(inside.size)], dtype=object)
    owners = np.array([f"Invented owner {number}" for number in range(inside.size)], dtype=object)
    pyogrio.raw.write(
        path,
        shapely.to_wkb(inside),
        [ids, owners],
        ["roll", "owner"],
        geometry_type="Polygon",
        crs=crs,
        driver="GPKG",
        layer="parcels",
    )
    return inside.size


def write_one_parcel(path, bounds, crs):
    """One invented parcel over the whole of an elevation model, whose bounds are given."""
    whole = projection.to_lonlat(shapely.box(*bounds).buffer(10.0), crs)
    feature = {"type": "Feature", "properties": {"roll": "invented"}, "geometry": json.loads(shapely.to_geojson(whole))}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
