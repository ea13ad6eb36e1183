"""Case files: writing one, running the main job on it, reading what it wrote."""

import json
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pyogrio
import shapely

import program
import rasters


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

    def source_polygons(self, section):
        """Polygons of the case's own layer, `parcels` or `roads`, by the text of their id; in the case's CRS."""
        settings = self.settings[section]
        meta, _, geometry, (ids,) = pyogrio.raw.read(
            self.file.parent / settings["source"], layer=settings.get("layer"), columns=[settings["id"]]
        )
        return meta["crs"], dict(zip(map(str, ids), shapely.from_wkb(geometry), strict=True))


def outlets(file, out):
    program.run("outlets", file, "--out", out, "--overwrite")
    return Case(Path(file), Path(out))


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
