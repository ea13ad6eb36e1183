"""Small invented cases, each from its own seed: random ground, a patchwork of parcels, roads and unowned land, mapped waterways of
random classes that join one another, culverts and pipes, tiled land, schedules and agreements.

Lengths are in cells until the layers are written. Lot lines lie on the borders of cells or 0.2 cells beside them, and lines of
waterways run from cell centre to cell centre along rows and columns: so no lot line passes within 2.5 m of a waterway that does not
cross it, and whether a parcel touches a waterway is not a matter of tolerance.
"""

import json
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

import rasters
import small_schedules
import small_waters
import terrains
from road_lands import Road
from second_waters import Waters
from terrains import Terrain

CELL_M = 10.0
HECTARES_PER_CELL = CELL_M**2 / 10_000.0
ACCURACY_M, TOLERANCE_M = 1.0, 0.5
# Half of it on one side makes an overlap within the boundaries' accuracy.
SLIVER = 0.05
BESIDE = 0.2
GROUND = (terrains.rough, terrains.rolling, terrains.stepped, terrains.terraced)
OFTEN = ("natural_watercourse", "municipal_drain", "mutual_agreement_drain")
# Ontario's half of the time: its rules are the most.
PROFILES = ("ontario", "ontario", "ontario", "iowa", "manitoba", "saskatchewan")
CRS = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26917"}}


@dataclass
class Waterway:
    id: str
    kind: str
    cells: list
    """(row, col) from centre to centre, downstream."""
    parties: list | None = None
    registered: bool | None = None
    polygons: list = field(default_factory=list)
    """In the place of cells, where it is a lake or a wide river: its parts."""


@dataclass
class Structure:
    id: str
    ends: tuple
    kind: str
    """`culvert`, or the class of a pipe; empty for a pipe without class."""


@dataclass
class SmallCase:
    terrain: Terrain
    parcels: dict
    """Polygons by id."""
    roads: list
    waterways: list
    structures: list
    tiled: list = field(default_factory=list)
    """(pipe, polygon)"""
    schedules: dict = field(default_factory=dict)
    """By drain."""
    owners: dict = field(default_factory=dict)
    """By parcel; some hold several."""
    profile: str = "ontario"
    keep_larger: bool = False


def small_case(seed, classes):
    """`classes` are the ids of the rule profile's classes."""
    rng = np.random.default_rng([seed, 4711])
    shape = tuple(rng.integers(6, 19, 2))
    ground = GROUND[rng.integers(len(GROUND))](rng, shape)
    if rng.random() < 0.25:
        ground = terrains.with_holes(rng, ground)
    ground = ground.astype(np.float32)
    if np.isnan(ground).all():
        ground[0, 0] = 100.0
    parcels, roads = land(rng, shape)
    few = np.random.default_rng([seed, 23])
    if few.random() < 0.15:
        parcels = large(parcels)
    waterways = watercourses(rng, ground, classes, list(parcels))
    if (kind := few.random()) < 0.4:
        # Cases of drains alone, most with schedules, and of watercourses alone.
        waterways = [replace(way, kind=OFTEN[1] if kind < 0.2 else OFTEN[0]) for way in waterways]
    structures = carriers(rng, ground, classes)
    pipes = [structure.id for structure in structures if structure.kind != "culvert"]
    case = SmallCase(Terrain(f"small-{seed}", ground, (CELL_M, CELL_M)), parcels, roads, waterways, structures)
    case.tiled = [(pipe, rectangle(rng, shape)) for pipe in pipes if rng.random() < 0.6]
    drains = [way.id for way in waterways if way.kind == "municipal_drain"]
    drains += [pipe.id for pipe in structures if pipe.kind == "municipal_drain"]
    assessable = {road.id: road.polygon for road in roads if road.id} | parcels
    assessed = {drain: small_schedules.schedule(rng, assessable, HECTARES_PER_CELL) for drain in drains if rng.random() < 0.6}
    of_amounts = np.random.default_rng([seed, 65])
    case.schedules = {drain: small_schedules.with_amounts(of_amounts, lands, assessable, HECTARES_PER_CELL) for drain, lands in assessed.items()}
    case.keep_larger = bool(rng.random() < 0.3)
    case.owners = {id: f"Invented {rng.choice(list(parcels)) if rng.random() < 0.2 else id}" for id in parcels}
    case.profile = str(rng.choice(PROFILES))
    of_waters = np.random.default_rng([seed, 8])
    if of_waters.random() < 0.4:
        add_waters(of_waters, case)
    return case


def add_waters(rng, case):
    """Lakes and rivers; a line along which the ground rises, now that lakes are level, is left out: nothing says which way it runs."""
    ids = list(case.parcels)
    waters = small_waters.waters(rng, case.terrain.elevation)
    if rng.random() < 0.3:
        waters.append(small_waters.in_bowl(rng, case.terrain.elevation))
    for id, kind, polygons in waters:
        case.waterways.append(Waterway(id, kind, [], some(rng, ids) if rng.random() < 0.5 else None, None, polygons))
    ground = waters_of(case, {"natural_watercourse": "channel", "lake": "lake"}).surveyed
    case.waterways = [way for way in case.waterways if way.polygons or falls(way.cells, ground)]
    case.schedules = {drain: given for drain, given in case.schedules.items() if drain in {item.id for item in (*case.waterways, *case.structures)}}


def waters_of(case, kinds):
    """Its lakes and rivers on cells."""
    rows, cols = case.terrain.elevation.shape
    centres = np.meshgrid(np.arange(cols) + 0.5, rows - np.arange(rows) - 0.5)
    return Waters(case.terrain.elevation, case.waterways, kinds, lambda polygon: shapely.contains_xy(polygon, *centres))


def land(rng, shape):
    rows, cols = shape
    beyond = 2 if rng.random() < 0.2 else 0
    pieces = split(rng, (0, 0, cols + beyond, rows))
    roads = []
    if rng.random() < 0.6:
        row = int(rng.integers(0, rows))
        middle = int(rng.integers(1, cols))
        roads.append(shapely.box(0, row, middle, row + 1))
        roads.append(shapely.box(middle - int(rng.integers(0, 2)), row, cols, row + 1))
    if rng.random() < 0.3:
        col = int(rng.integers(0, cols))
        roads.append(shapely.box(col, 0, col + 1, rows))
    road = shapely.union_all(roads) if roads else shapely.Polygon()
    lots = [shapely.box(*piece).difference(road) for piece in pieces]
    lots = [lot for number, lot in enumerate(lots) if lot.area > 0 and (number == 0 or rng.random() < 0.85)]
    lots = lots or [shapely.box(0, 0, cols, rows)]
    if len(lots) > 2 and rng.random() < 0.4:
        lots.append(shapely.union(lots.pop(0), lots.pop(0)))
    parcels = {}
    for lot, number in zip(lots, rng.permutation(len(lots)), strict=True):
        if rng.random() < 0.2:
            lot = shapely.union(lot, shapely.affinity.translate(lot, SLIVER, 0.0))
        parcels[f"{number:03}"] = lot
    return dict(sorted(parcels.items())), named(rng, roads, list(parcels))


def large(parcels):
    """Two parcels of all, so large that some of their water leaves in groups too small for a share."""
    ids = list(parcels)
    halves = [ids[: len(ids) // 2 + 1], ids[len(ids) // 2 + 1 :]]
    return {some[0]: shapely.union_all([parcels[id] for id in some]) for some in halves if some}


def named(rng, polygons, parcels):
    """Roads with an id of their own, an id that a parcel has, another one's id, or none; names and authorities that agree."""
    roads = []
    for polygon in polygons:
        kind = rng.random()
        own = f"R{len(roads)}" if kind < 0.5 else str(rng.choice(parcels))
        id = None if kind > 0.8 else "R0" if kind < 0.15 else own
        name = None if id is None or id.endswith("1") else f"Invented {id} Line"
        authority = None if id is None else "Township of Oxpindle" if id < "R" else "County of Thrumbleby"
        roads.append(Road(polygon, id, name, authority))
    return roads


def split(rng, box):
    """Cut into pieces at least two cells wide."""
    west, south, east, north = box
    wide, high = east - west, north - south
    if max(wide, high) < 4 or (wide * high < 60 and rng.random() < 0.3):
        return [box]
    if wide >= high:
        at = west + int(rng.integers(2, int(wide) - 1)) + rng.choice([0.0, 0.0, BESIDE])
        return split(rng, (west, south, at, north)) + split(rng, (at, south, east, north))
    at = south + int(rng.integers(2, int(high) - 1)) + rng.choice([0.0, 0.0, BESIDE])
    return split(rng, (west, south, east, at)) + split(rng, (west, at, east, north))


def rectangle(rng, shape):
    rows, cols = shape
    west, south = rng.integers(0, cols - 2), rng.integers(0, rows - 2)
    return shapely.box(west, south, west + rng.integers(1, 6), south + rng.integers(1, 6))


def watercourses(rng, ground, classes, ids):
    waterways, taken = [], set()
    for number in range(rng.integers(0, 5)):
        cells = (down_hill if rng.random() < 0.3 else across)(rng, ground, taken)
        if len(cells) < 3 or cells[0] in taken:
            continue
        taken.update(cells)
        way = Waterway(f"W{number}", str(rng.choice(OFTEN if rng.random() < 0.6 else classes)), cells)
        if rng.random() < 0.8 and ids:
            way.parties = some(rng, ids)
            way.registered = [None, True, False][rng.integers(3)]
        waterways.append(way)
    return waterways


def some(rng, ids):
    return [str(id) for id in rng.choice(ids, rng.integers(1, len(ids) + 1), replace=False)]


def falls(cells, ground):
    return len(cells) <= 2 or np.polyfit(range(len(cells)), [ground[cell] for cell in cells], 1)[0] <= 0.0


def beside(cell, shape):
    around = [(cell[0] + down, cell[1] + right) for down, right in ((0, 1), (1, 0), (0, -1), (-1, 0))]
    return [(row, col) for row, col in around if 0 <= row < shape[0] and 0 <= col < shape[1]]


def somewhere(rng, shape):
    return int(rng.integers(shape[0])), int(rng.integers(shape[1]))


def down_hill(rng, ground, taken):
    """Down from a random cell along rows and columns, to where it cannot go on or joins another waterway."""
    cell, cells = somewhere(rng, ground.shape), []
    while not np.isnan(ground[cell]):
        cells.append(cell)
        lower = [next for next in beside(cell, ground.shape) if ground[next] <= ground[cell] and next not in cells]
        if cell in taken or not lower:
            break
        cell = min(lower, key=lambda next: ground[next])
    return cells


def across(rng, ground, taken):
    """A wandering ditch dug whatever the ground does, drawn so that the ground does not rise along it."""
    cell, cells, step = somewhere(rng, ground.shape), [], None
    while not np.isnan(ground[cell]):
        cells.append(cell)
        free = [next for next in beside(cell, ground.shape) if not set(beside(next, ground.shape)) & set(cells[:-1]) - {cell}]
        free = [next for next in free if next not in cells]
        if cell in taken or not free:
            break
        ahead = step and (cell[0] + step[0], cell[1] + step[1])
        next = ahead if ahead in free and rng.random() < 0.8 else free[rng.integers(len(free))]
        cell, step = next, (next[0] - cell[0], next[1] - cell[1])
    if not falls(cells, ground):
        cells = [cell for cell in cells[::-1] if cell not in taken]
    return cells


def carriers(rng, ground, classes):
    structures = []
    rows, cols = ground.shape
    for number in range(rng.integers(0, 3)):
        row, col, down, right = rng.integers(rows), rng.integers(cols), rng.integers(-5, 6), rng.integers(-5, 6)
        ends = (int(row), int(col)), (int(np.clip(row + down, 0, rows - 1)), int(np.clip(col + right, 0, cols - 1)))
        if ends[0] != ends[1]:
            kind = str(rng.choice(["culvert", "", *classes]))
            structures.append(Structure(f"S{number}", ends, kind))
    return structures


def write(case, folder):
    """Writes the case's layers and case file; returns the case file."""
    folder.mkdir()
    rows = case.terrain.elevation.shape[0]
    rasters.write_dem(folder / "dem.tif", case.terrain)

    def layer(name, features):
        features = [{"type": "Feature", "properties": p, "geometry": json.loads(shapely.to_geojson(on_map(g, rows)))} for g, p in features]
        (folder / name).write_text(json.dumps({"type": "FeatureCollection", "crs": CRS, "features": features}))

    text = [
        "[terrain]",
        'elevation = ["dem.tif"]',
        'vertical_unit = "m"',
        "keep_larger = { depth_m = 0.2, area_ha = 0.01, volume_m3 = 1.0 }" if case.keep_larger else "",
        "[rules]",
        f'profile = "{case.profile}"',
        f"abut_tolerance_m = {TOLERANCE_M}",
    ]
    layer("parcels.geojson", [(polygon, {"roll": id, "owner": case.owners[id]}) for id, polygon in case.parcels.items()])
    text += ["[parcels]", 'source = "parcels.geojson"', 'id = "roll"', 'owner = "owner"', f"accuracy_m = {ACCURACY_M}"]
    if case.roads:
        fields = [{"road": road.id, "name": road.name, "kept_by": road.authority} for road in case.roads]
        layer("roads.geojson", [(road.polygon, given) for road, given in zip(case.roads, fields, strict=True)])
        text += ["[roads]", 'source = "roads.geojson"', 'id = "road"', 'name = "name"', 'authority = "kept_by"']
    text += write_waterways(case, layer)
    culverts = [way for way in case.structures if way.kind == "culvert"]
    pipes = [way for way in case.structures if way.kind != "culvert"]
    if culverts:
        inverts = {"invert_up_m": 1.0, "invert_down_m": 0.5}
        layer("culverts.geojson", [(line(way.ends, rows), {"id": way.id, **inverts}) for way in culverts])
        text += ["[[culverts]]", 'source = "culverts.geojson"']
    if pipes:
        layer("pipes.geojson", [(line(way.ends, rows), {"id": way.id, "class": way.kind or None}) for way in pipes])
        text += ["[[pipes]]", 'source = "pipes.geojson"']
    if case.tiled:
        layer("tiled.geojson", [(polygon, {"main": pipe}) for pipe, polygon in case.tiled])
        text += ["[tiled_areas]", 'source = "tiled.geojson"', 'pipe = "main"']
    for drain, given in case.schedules.items():
        text += small_schedules.write(folder, drain, given)
    (folder / "case.toml").write_text("\n".join(text) + "\n")
    return folder / "case.toml"


def write_waterways(case, layer):
    """Lines and polygons in one layer or in two; returns the tables of the case file. A part is a feature."""
    rows, text = case.terrain.elevation.shape[0], []
    lines = [way for way in case.waterways if not way.polygons]
    waters = [way for way in case.waterways if way.polygons]
    groups = [lines + waters] if len(lines) % 2 else [lines, waters]
    for number, group in enumerate(group for group in groups if group):
        name = f"waterways{number}.geojson"
        parts = [(part, way) for way in group for part in way.polygons or [line(way.cells, rows)]]
        layer(name, [(part, waterway_fields(way)) for part, way in parts])
        text += ["[[waterways]]", f'source = "{name}"', 'id = "id"', 'class_field = "kind"', 'members = "parties"', 'registered = "on_title"']
    return text


def waterway_fields(way):
    return {"id": way.id, "kind": way.kind, "parties": way.parties and ";".join(way.parties), "on_title": way.registered}


def line(cells, rows):
    """From cell centre to cell centre, in cells east and north of the south-west corner."""
    return shapely.LineString([(col + 0.5, rows - row - 0.5) for row, col in cells])


def on_map(geometry, rows):
    """From cells east and north of the south-west corner to the map."""
    south_west = np.array([rasters.WEST, rasters.NORTH - rows * CELL_M])
    return shapely.transform(geometry, lambda xy: south_west + xy * CELL_M)
