"""The whole of a random case from its seed."""

import tomllib

import numpy as np

import program
from random_cases import documents, ground, land, open_water, water
from random_cases.case import RandomCase

PROFILES = ("ontario", "ontario", "iowa", "manitoba", "saskatchewan")
FORMATS = ("geojson", "geojson", "gpkg", "shp", "fgb")


def random_case(seed):
    rng = np.random.default_rng([seed, 90_210])
    grid = ground.grid(rng)
    heights, unit, storage = ground.stored(rng, ground.ground(rng, grid.shape))
    tables = settings(rng)
    case = RandomCase(seed, grid, heights, unit, storage, {}, {}, [], [], [], [], [], {}, [], [], [], [], False, tables, {})
    classes = class_ids(case.profile)
    ground_m = case.surveyed_m
    roads = land.roads(rng, grid)
    lots = land.parcels(rng, grid)
    if rng.random() < 0.7:
        lots = land.without(lots, roads)
    case.roads = land.named(np.random.default_rng([seed, 17]), grid, roads, lots)
    case.parcels = land.overlapping(rng, lots, case.accuracy_m) if rng.random() < 0.3 else lots
    people = [f"Invented owner {letter}" for letter in "ABCDEFG"]
    case.owners = {id: str(rng.choice(people)) if rng.random() < 0.9 else None for id in lots}
    case.fields = land.fields(rng, grid, lots) if rng.random() < 0.3 else []
    case.waterways = water.waterways(rng, grid, ground_m, lots, classes)
    case.structures = water.structures(rng, grid, ground_m, case.waterways, classes)
    pipes = [structure.id for structure in case.structures if structure.kind != "culvert"]
    case.tiled = [(pipe, land.patch(rng, grid)) for pipe in pipes if rng.random() < 0.6]
    drains = [way.id for way in [*case.waterways, *case.structures] if way.kind == "municipal_drain"]
    case.schedules = {drain: documents.schedule(rng, lots, case.roads) for drain in drains if rng.random() < 0.6}
    if rng.random() < 0.35:
        case.levels = documents.levels(rng, grid, ground_m, case.waterways, case.structures)
    if rng.random() < 0.3:
        case.sections = documents.sections(rng, grid, ground_m, case.waterways)
    if rng.random() < 0.2:
        case.kept = [land.patch(rng, grid) for _ in range(rng.integers(1, 3))]
    if tables["capacity"].get("method", "removal_curve") != "removal_curve":
        case.rainfall = True
        case.soils = [(str(rng.choice(list("ABCD"))), grid.box.buffer(grid.least))]
    names = ("parcels", "roads", "fields", "waterways", "tiled", "kept", "soils")
    case.formats = {name: str(rng.choice(FORMATS)) for name in names}
    of_waters = np.random.default_rng([seed, 8])
    case.formats["waters"] = str(of_waters.choice(FORMATS))
    if of_waters.random() < 0.35:
        case.waterways += open_water.waters(of_waters, grid, ground_m, lots)
    if case.formats["tiled"] == "fgb":
        # It puts features in an order of its own, and of two areas the first keeps what they share.
        case.formats["tiled"] = "geojson"
    if case.formats["roads"] == "fgb" and any(road.id is None for road in case.roads):
        # A road without an id is named by its number in the layer.
        case.formats["roads"] = "geojson"
    return case


def settings(rng):
    """Entries of the case file besides layers."""
    terrain = {"longest_cut_m": float(rng.choice([0.0, 20.0, 60.0]))}
    if rng.random() < 0.4:
        terrain["rmse_z_m"] = float(rng.choice([0.02, 0.1, 0.5]))
    if rng.random() < 0.3:
        terrain["keep_larger"] = {"depth_m": 0.2, "area_ha": 0.005, "volume_m3": 1.0}
    capacity = {"method": str(rng.choice(["removal_curve", "removal_curve", "rational", "curve_number"]))} if rng.random() < 0.6 else {}
    if capacity.get("method") == "rational":
        capacity["runoff_coefficient"] = 0.4
    if capacity.get("method") == "curve_number":
        capacity |= {"cover": "row_crop_straight_good", "rainfall_distribution": "II"}
    return {
        "terrain": terrain,
        "capacity": capacity,
        "parcels": {"accuracy_m": float(rng.choice([0.5, 1.0, 2.0, 6.0]))},
        "rules": {"profile": str(rng.choice(PROFILES)), "abut_tolerance_m": float(rng.choice([0.0, 0.5, 2.0]))},
    }


def class_ids(profile):
    text = (program.ROOT / f"crates/law/profiles/{profile}.toml").read_text()
    return [item["id"] for item in tomllib.loads(text)["class"]]
