"""Watersheds: those of the main job, those of the command `watershed`, and both beside the walk."""

import csv
import json

from road_lands import party

HECTARES = 1e-6


def first_met(walked):
    """For each cell the outlet in whose watershed it lies, by `watersheds.geojson`."""
    label = {}
    for feature in walked.layers["watersheds"]:
        for cell in walked.inside(feature["geometry"]):
            label.setdefault(cell, []).append(feature["properties"]["outlet_id"])
    return label


def problems(walked):
    """Cell by cell: a cell has the outlet that lies in it, else that of the cell that takes its water."""
    labels = first_met(walked)
    counts = {}
    for cell in walked.cells:
        found = labels.get(cell, [None])
        if len(found) > 1:
            yield f"watersheds.geojson: {walked.name(cell)} lies in those of {' and '.join(found)}"
            continue
        counts[found[0]] = counts.get(found[0], 0) + 1
        possible = walked.possible_outlets(cell)
        if None in possible:
            next = labels.get(walked.receiver[cell], [None]) if walked.receiver[cell] >= 0 else [None]
            possible = possible - {None} | {next[0]}
        if found[0] not in possible:
            yield f"watersheds.geojson: {walked.name(cell)} lies in that of {found[0]}, the walk first meets {shown(possible)}"
    if any(cell not in walked.draining for cell in labels):
        yield "watersheds.geojson: a watershed where there is no elevation"
    for feature in walked.layers["watersheds"]:
        watershed = feature["properties"]
        expected = walked.hectares(counts.get(watershed["outlet_id"], 0))
        if abs(watershed["area_ha"] - expected) > HECTARES:
            yield f"watersheds.geojson: {watershed['outlet_id']} has {watershed['area_ha']} ha, its polygon {expected:.6f} ha"


def shown(ids):
    return " or ".join(sorted(map(str, ids)))


def parts_of(out):
    return json.loads((out / "watershed.geojson").read_text())["features"]


def whole_of(walked, out):
    """The cells of the whole watershed, with what is wrong with its hectares."""
    whole = next(feature for feature in parts_of(out) if feature["properties"]["part"] == "whole")
    cells = walked.inside(whole["geometry"])
    expected = walked.hectares(len(cells))
    off = abs(whole["properties"]["surface_ha"] - expected) > HECTARES
    return cells, [f"surface_ha is {whole['properties']['surface_ha']}, its polygon's {expected:.6f}"] if off else []


def of_outlet(walked, id, out):
    """`watershed --outlet`: all cells whose water meets it, whatever they meet before."""
    cells, faults = whole_of(walked, out)
    yield from faults
    if id in walked.links and id not in walked.waterways:
        expected = walked.above(walked.pipes.inlets(id))
        if cells != expected:
            yield f"{len(cells)} cells, {len(expected)} walk into its inlet"
    else:
        yield from of_waterway(walked, id, cells)
    first = {cell for cell, ids in first_met(walked).items() if id in ids}
    if first - cells:
        yield f"{len(first - cells)} cells lie in its watershed by watersheds.geojson and not here, among them {walked.name(min(first - cells))}"
    yield from of_parts(walked, out, cells)
    yield from assessed(walked, walked.case.schedules.get(id, {}), out)


def assessed(walked, schedule, out):
    """Every row of the schedule stands in the table once: that of the parcel with its id, else that of the road, else without a kind."""
    with open(out / "watershed_lands.csv", newline="", encoding="utf-8") as file:
        found = {party(row): float(row["assessed_ha"]) for row in csv.DictReader(file) if row["assessed_ha"]}
    expected = {}
    for id, hectares in schedule.items():
        road = ("road", id)
        expected[id if id in walked.parcels else road if road in walked.roads else ("", id)] = hectares
    if found != expected:
        yield f"watershed_lands.csv: assessed {found}, by the schedule {expected}"


def of_waterway(walked, id, cells):
    """A cell lies in it where the channel does, else where the cell that takes its water does."""
    for cell in walked.cells:
        channels, is_certain = walked.possible_channels(cell)
        also = walked.reach_at.get(cell, {}).get("also", [])
        if is_certain and id in channels | {other["waterway_id"] for other in also}:
            if cell not in cells:
                yield f"{walked.name(cell)} in its channel is left out"
        elif (cell in cells) != (walked.receiver[cell] in cells) and not (cell in cells and id in channels):
            yield f"{walked.name(cell)} lies {'in' if cell in cells else 'out'} and the cell that takes its water does not"


def of_parts(walked, out, whole):
    """Reaches divide the whole; the tables hold what the polygons do."""
    features = parts_of(out)
    covered = set()
    for feature in features:
        part = feature["properties"]
        cells = walked.inside(feature["geometry"])
        if abs(part["surface_ha"] - walked.hectares(len(cells))) > HECTARES:
            yield f"part {part['part']} {part['reach_id']}: {part['surface_ha']} ha, its polygon {walked.hectares(len(cells)):.6f} ha"
        if part["part"] == "whole":
            continue
        if part["part"] == "reach" and not cells <= whole:
            yield f"reach {part['reach_id']} reaches out of the whole"
        if covered & cells:
            yield f"part {part['part']} {part['reach_id']} overlaps another one"
        covered |= cells
    if any(feature["properties"]["part"] == "reach" for feature in features) and not whole <= covered:
        yield f"{len(whole - covered)} cells of the whole lie in no reach"
    by_land = {}
    for cell in whole:
        by_land[walked.party[cell]] = by_land.get(walked.party[cell], 0) + 1
    with open(out / "watershed_lands.csv", newline="", encoding="utf-8") as file:
        lands = {party(row): float(row["surface_ha"]) for row in csv.DictReader(file)}
    for land in by_land.keys() | lands.keys():
        if abs(lands.get(land, 0.0) - walked.hectares(by_land.get(land, 0))) > HECTARES:
            yield f"watershed_lands.csv: {lands.get(land)} ha of {land}, the polygon's {walked.hectares(by_land.get(land, 0)):.6f}"


def of_point(walked, cell, out):
    """`watershed --at`: the walk back from a cell."""
    cells, faults = whole_of(walked, out)
    yield from faults
    expected = walked.above([cell])
    if cells != expected:
        yield f"{len(cells)} cells, {len(expected)} walk through {walked.name(cell)}"
    yield from of_parts(walked, out, cells)
    for feature in parts_of(out):
        if feature["properties"]["part"] == "downstream" and walked.inside(feature["geometry"]) & expected:
            yield "what joins it downstream overlaps the whole"
