"""Faults of a case: what each spoils, and the file that the refusal must name."""

import dataclasses
import re

import numpy as np
import shapely
import shapely.affinity

from road_lands import Road


def fault(case):
    """A spoilt copy of a case; a function that spoils the text of its case file; the file to be named, and what is wrong."""
    rng = np.random.default_rng([case.seed, 31])
    return FAULTS[rng.integers(len(FAULTS))](dataclasses.replace(case, formats=dict.fromkeys(case.formats, "geojson")))


def as_it_is(text):
    return text


def unknown_key(case):
    return case, lambda text: text + "[parcel]\nid = \"roll\"\n", "case.toml", "an unknown table"


def missing_file(case):
    return case, lambda text: text + "[[constraints]]\nsource = \"none.geojson\"\nkind = \"wetland\"\n", "none.geojson", "a missing file"


def no_unit(case):
    return case, lambda text: re.sub(r"vertical_unit = .*\n", "", text), "tif", "no vertical unit"


def missing_raster(case):
    return case, lambda text: re.sub(r"elevation = \[", 'elevation = ["west.tif", ', text), "west.tif", "a missing raster"


def unknown_profile(case):
    return case, lambda text: re.sub(r"profile = .*", 'profile = "ontaria"', text), "case.toml", "an unknown profile"


def large_overlap(case):
    lots = dict(case.parcels)
    # A lot no wider than the boundaries' accuracy, mapped twice, would be a sliver.
    tables = case.tables | {"parcels": case.tables["parcels"] | {"accuracy_m": 0.01}}
    id, lot = max(lots.items(), key=lambda item: 2.0 * item[1].area / item[1].length)
    lots["twice"] = lot
    owners = case.owners | {"twice": None}
    return dataclasses.replace(case, parcels=lots, owners=owners, tables=tables), as_it_is, "parcels.geojson", f"parcel {id} twice"


def roads_of_one_id(case):
    roads = [Road(case.grid.box, "R-1", "Mill Road"), Road(case.grid.box, "R-1", "Mill Lane")]
    return dataclasses.replace(case, roads=roads), as_it_is, "roads.geojson", "two roads of one id that disagree"


def crossing_ring(case):
    west, south, east, north = case.grid.box.bounds
    bow = shapely.Polygon([(west, south), (east, north), (east, south), (west, north)])
    owners = case.owners | {"bow": None}
    return dataclasses.replace(case, parcels=case.parcels | {"bow": bow}, owners=owners), as_it_is, "parcels.geojson", "a ring that crosses itself"


def far_away(case):
    lots = {id: shapely.affinity.translate(lot, 1e6, 0.0) for id, lot in case.parcels.items()}
    return dataclasses.replace(case, parcels=lots), as_it_is, "parcels.geojson", "parcels far from the elevation"


def unknown_main(case):
    return dataclasses.replace(case, tiled=[("S99", case.grid.box)]), as_it_is, "tiled.geojson", "an unknown main"


def bad_schedule(case):
    return dataclasses.replace(case, schedules={"no-such-drain": {"a": 1.0}}), as_it_is, "no-such-drain.csv", "an unknown drain"


def degrees(case):
    return dataclasses.replace(case, grid=dataclasses.replace(case.grid, crs="EPSG:4326", west=-82.0, north=43.0)), as_it_is, "tif", "degrees"


FAULTS = (
    unknown_key, missing_file, no_unit, missing_raster, unknown_profile, large_overlap, roads_of_one_id, crossing_ring, far_away, unknown_main,
    bad_schedule, degrees,
)  # fmt: skip
