"""Piped water once more: walk each main from the first of its places on the parcel's own land, then every cell below its end.

Like `second_implementation.py` it starts from the layers of a small case and from the exported directions and links, and shares no
code with the program.
"""

import json
from collections import Counter

import numpy as np
import shapely

import second_implementation
import small_cases
from road_lands import UNOWNED, is_parcel, party

PLACES_M = 2e-3


def differences(worked, out, seen):
    """What differs in the outputs, as text."""
    lands = piped_lands(worked)
    differing = []

    def check(name, what, found, expected):
        if not same(found, expected):
            differing.append(f"{worked.case.terrain.name}, parcel and pipe {name}, {what}: {found}, expected {expected}")

    paths = {(path["parcel_id"], path["pipe_id"]): path for path in piped(out, "paths")}
    check("all", "piped paths", sorted(paths), sorted(lands))
    crossings = {}
    for crossing in piped(out, "crossings"):
        crossings.setdefault((crossing["parcel_id"], crossing["pipe_id"]), []).append(crossing)
    parcels = {found["parcel_id"]: found for found in properties(out, "parcels")}
    received = Counter()
    for name in lands.keys() & paths.keys():
        parcel, pipe = name
        seen["piped paths"] += 1
        walk = Walk(worked, parcel, pipe)
        path, ha = paths[name], second_implementation.HECTARES_PER_CELL
        check(name, "cells", round(path["hectares"] / ha, 2), round(float(lands[name]), 2))
        check(name, "path_m", path["path_m"], walk.metres)
        check(name, "outlet", path["outlet_id"], walk.outlet)
        crossed = [(land, metres) for land, metres in walk.lands[1:]]
        found = [(party(crossing, "to_"), crossing["metres_on_land"]) for crossing in crossings.get(name, [])]
        check(name, "lands crossed", [land for land, _ in found], [land for land, _ in crossed])
        check(name, "metres on them", [metres for _, metres in found], [metres for _, metres in crossed])
        others = [land for land in dict.fromkeys(land for land, _ in crossed) if is_parcel(land) and land != parcel]
        check(name, "parcels_crossed", path["parcels_crossed"], others)
        received.update((other, parcel, pipe) for other in others)
        items = [item for item in parcels[parcel]["piped"] if item["pipe_id"] == pipe]
        check(name, "cells of its records", sum(item["hectares"] for item in items) / ha, float(lands[name]))
        whole = {"outside_elevation_data", "elevation_missing", "smaller_than_a_cell"}
        for item in items:
            if whole & set(item["reasons"]):
                continue
            metres = Counter()
            for land, on_it in crossed:
                metres[land] += on_it
            # Nobody has to agree with himself: other land of the same owner is left out.
            expected = {land: on_it for land, on_it in metres.items() if land not in walk.own}
            check(name, "lands of a record", [party(land) for land in item["lands_crossed"]], list(expected))
            check(name, "metres of a record", [land["metres"] for land in item["lands_crossed"]], list(expected.values()))
            for reason, holds in (("piped_under_neighbour", walk.under), ("collected_water_on_neighbour", walk.open_on)):
                check(name, reason, reason in item["reasons"], bool(holds))
            kind = worked.kind.get(walk.outlet)
            if item["standing"] == "right" and worked.profile.classes[item["basis"]]["provision"] == "frontage":
                seen["piped water with a right by frontage"] += 1
                check(name, "water cast on a neighbour with a right by frontage", bool(walk.open_on), False)
            if walk.outlet is None:
                check(name, "a right without an outlet", item["standing"] == "right", False)
            seen[f"piped records to a {kind}"] += 1
    for parcel, found in parcels.items():
        listed = sorted((item["id"], item["pipe_id"]) for item in found["receives_piped_from"])
        check(parcel, "receives_piped_from", listed, sorted((giver, pipe) for taker, giver, pipe in received if taker == parcel))
    return differing


def same(found, expected):
    if isinstance(expected, float):
        return abs(found - expected) < PLACES_M
    if isinstance(expected, list) and all(isinstance(item, float) for item in expected):
        return len(found) == len(expected) and np.allclose(found, expected, rtol=0.0, atol=PLACES_M)
    return found == expected


def properties(out, name):
    return [feature["properties"] for feature in json.loads((out / f"{name}.geojson").read_text())["features"]]


def piped(out, name):
    return [item for item in properties(out, name) if item["water"] == "piped"]


def piped_lands(worked):
    """Cells of each parcel by the main that drains them."""
    known = {link["link_id"] for link in worked.link_at.values()}
    cells = Counter()
    for cell in worked.cells:
        land = worked.party[cell]
        point = shapely.Point(worked.centre(cell))
        main = next((pipe for pipe, polygon in worked.case.tiled if polygon.contains(point)), None)
        if main in known and is_parcel(land):
            cells[land, main] += 1
    return cells


def in_structure(worked, structure):
    return [(place, land) for place, land, _ in worked.courses.inside(structure)]


class Walk:
    """The way of one parcel's water by one main."""

    def __init__(self, worked, parcel, pipe):
        inlet = next(cell for cell, link in worked.link_at.items() if link["link_id"] == pipe)
        end = worked.index(worked.link_at[inlet]["outlet_cell"])
        along = [(worked.centre(inlet), worked.party[inlet]), *in_structure(worked, pipe)]
        first = next((position for position, (_, land) in enumerate(along) if land == parcel), 0)
        # Each place with its land, and whether a pipe or culvert carries the water on from it.
        places = [(*place, True) for place in along[first:]]
        self.outlet = worked.courses.lawful(pipe)
        if self.outlet == pipe:
            places = places[:1]
        elif self.outlet is None:
            for cell in worked.paths[end]:
                carried = cell in worked.link_at and worked.receiver[cell] >= 0
                places.append((worked.centre(cell), worked.party[cell], carried))
                if (structure := worked.carried_on(cell)) is not None:
                    places += [(*place, True) for place in in_structure(worked, structure)]
                if met := worked.lawful_at(cell):
                    self.outlet = met[0]
                    break
        before_outlet = places if self.outlet is None else places[:-1]
        owners = worked.case.owners
        self.own = {other for other, owner in owners.items() if owner == owners[parcel]}
        others = [(land, carried) for _, land, carried in before_outlet if land not in self.own and land != UNOWNED]
        self.under = [land for land, carried in others if carried and is_parcel(land)]
        self.open_on = [land for land, carried in others if not carried]
        steps = [
            float(np.hypot(b[0][0] - a[0][0], b[0][1] - a[0][1])) * small_cases.CELL_M for a, b in zip(places, places[1:])
        ]
        self.metres = float(sum(steps))
        self.lands = [[parcel, 0.0]]
        for (_, land, _), step in zip(before_outlet, [*steps, 0.0]):
            if self.lands[-1][0] != land:
                self.lands.append([land, 0.0])
            self.lands[-1][1] += step
