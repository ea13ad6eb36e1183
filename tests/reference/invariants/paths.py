"""Paths and crossings: each line is the walk from the share's leaving point to its first lawful outlet or to where water ends."""

import json

import numpy as np

from road_lands import is_parcel, party

PLACES_M = 3e-3
# Longitude and latitude have nine decimals at best: a tenth of a millimetre.
ON_MAP_M = 0.02


def problems(walked):
    crossings = {}
    for feature in walked.layers["crossings"]:
        crossing = feature["properties"]
        crossings.setdefault((crossing["parcel_id"], crossing["share"]), []).append(feature)
    shares = leaving_cells(walked)
    named = set()
    for feature in walked.layers["paths"]:
        path = feature["properties"]
        key = path["parcel_id"], path["share"]
        named.add(key)
        if key not in shares:
            yield f"paths.geojson: {key}: a path of no share"
            continue
        for problem in of_path(walked, feature, shares[key], crossings.pop(key, [])):
            yield f"paths.geojson: parcel {key[0]}, share {key[1]}: {problem}"
    for key in shares.keys() - named:
        yield f"paths.geojson: no path of parcel {key[0]}, share {key[1]}"
    for key in crossings:
        yield f"crossings.geojson: crossings of {key}, which has no path"


def leaving_cells(walked):
    """The cell where each share leaves, but for remainders."""
    found = {}
    for id, parcel in walked.parcels.items():
        for share in parcel["shares"]:
            if share["leaving_point"] is not None:
                point = {"type": "Point", "coordinates": share["leaving_point"]}
                found[id, share["share"]] = walked.at(*walked.on_map(point).coords[0])
    return found


def of_path(walked, feature, leaving, crossings):
    path = feature["properties"]
    if walked.party[leaving] != path["parcel_id"]:
        yield f"it begins in {walked.name(leaving)}, on the land of {walked.party[leaving]}"
    whole = walked.walk(leaving)
    cells, fault = up_to_outlet(walked, path, whole)
    if fault:
        yield fault
    if cells is None:
        return
    yield from line(walked, feature, cells)
    yield from lengths(walked, path, cells)
    yield from lands(walked, path, cells, crossings)
    yield from beyond(walked, path, whole)
    parcel = walked.parcels[path["parcel_id"]]
    outlets = {share["outlet_id"] for share in parcel["shares"] if share["share"] == path["share"]}
    if outlets != {path["outlet_id"]}:
        yield f"its outlet is {path['outlet_id']} and {outlets} in parcels.geojson"
    if path["main"]:
        for name in ("outlet_id", "outlet_class", "path_m", "fall_m", "parcels_crossed"):
            if parcel[name] != path[name]:
                yield f"{name} is {path[name]} and {parcel[name]} in parcels.geojson"


def of_point(walked, cell, printed):
    """`trace --at --json`: the same of the path from a cell."""
    features = json.loads(printed)["features"]
    path = next(feature for feature in features if feature["properties"]["kind"] == "path")
    cells, fault = up_to_outlet(walked, path["properties"], walked.walk(cell))
    if fault:
        yield fault
        return
    if len(cells) > 1:
        yield from line(walked, path, cells)
    yield from lengths(walked, path["properties"], cells)
    found = [feature["properties"] for feature in features if feature["properties"]["kind"] == "crossing"]
    expected = lots_crossed(walked, path["properties"], cells)
    ways = [between(found), [(walk["from"], walk["to"]) for walk in expected]]
    if ways[0] != ways[1]:
        yield f"it crosses {shown(ways[0])}, the walk {shown(ways[1])}"


def up_to_outlet(walked, path, whole):
    """The cells of a walk down to the outlet that the path names, and what is wrong with that outlet."""
    outlet = path["outlet_id"]
    if outlet is not None and path["outlet_class"] != walked.kind_of(outlet):
        return None, f"outlet_class is {path['outlet_class']} and {outlet} is a {walked.kind_of(outlet)}"
    ends = []
    for position, cell in enumerate(whole):
        possible = walked.possible_outlets(cell)
        if outlet in possible:
            ends.append(position)
        if None not in possible:
            break
    else:
        ends = [len(whole) - 1] if outlet is None else ends
    if not ends:
        return None, f"its outlet is {outlet}, the walk first meets {' or '.join(sorted(map(str, possible)))} in {walked.name(cell)}"
    # Of the cells that may be the outlet's, the one at the end of the line.
    metres = np.cumsum([0.0] + [np.hypot(*np.subtract(walked.centre(a), walked.centre(b))) for a, b in zip(whole, whole[1:])])
    return whole[: min(ends, key=lambda end: abs(metres[end] - path["path_m"])) + 1], None


def line(walked, feature, cells):
    """The line; one that leaves and ends in the same cell is drawn from the cell above it."""
    expected = [place[:2] for place in walked.places(cells, feature["properties"]["outlet_id"])]
    if feature["geometry"] is None:
        if len(expected) > 1:
            yield f"it has no line and {len(cells)} cells"
        return
    found = walked.on_map(feature["geometry"]).coords
    if len(expected) == 1:
        found = found[1:]
    if len(found) != len(expected) or np.abs(np.array(found) - np.array(expected)).max() > ON_MAP_M:
        yield f"its line has {len(found)} places and is not the walk of {len(expected)} places from {walked.name(cells[0])}"


def lengths(walked, path, cells):
    places = walked.places(cells, path["outlet_id"])
    metres = sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(places, places[1:]))
    fall = walked.surveyed_m[cells[0]] - level_at_end(walked, path, cells[-1])
    for name, expected in (("path_m", metres), ("fall_m", fall)):
        if abs(path[name] - expected) > PLACES_M:
            yield f"{name} is {path[name]}, the walk's {expected:.3f}"


def level_at_end(walked, path, cell):
    """The ground in the last cell; where the path ends in a pipe that the pipe of that cell joins, the level on a straight line
    between the ground at the inlet and where the water comes to the surface."""
    ground, link = walked.surveyed_m, walked.link_at.get(cell)
    inside = walked.pipes.first_lawful(link["link_id"]) if link else None
    if inside is None or inside != path["outlet_id"] or inside == link["link_id"]:
        return ground[cell]
    part = walked.pipes.part_to_outlet(link["link_id"])
    return ground[cell] + part * (ground[walked.pipes.surface(link["link_id"])] - ground[cell])


def lots_crossed(walked, path, cells):
    """Lot lines crossed, up to the first lawful outlet, in whose cell the land no longer counts; where water ends without one, the
    land on which it ends counts too."""
    places = walked.places(cells, path["outlet_id"])
    along = [0.0]
    for before, here in zip(places, places[1:]):
        along.append(along[-1] + np.hypot(here[0] - before[0], here[1] - before[1]))
    counted = places[:-1] if path["outlet_id"] is not None else places
    entered = [position for position in range(1, len(counted)) if counted[position][2] != counted[position - 1][2]]
    return [
        {
            "from": places[position - 1][2],
            "to": places[position][2],
            "distance_m": along[position],
            "metres_on_land": along[left] - along[position],
            "at": places[position][:2],
        }
        for position, left in zip(entered, [*entered[1:], len(places) - 1])
    ]


def lands(walked, path, cells, crossings):
    expected = lots_crossed(walked, path, cells)
    found = [crossing["properties"] for crossing in crossings]
    ways = [between(found), [(walk["from"], walk["to"]) for walk in expected]]
    if ways[0] != ways[1]:
        yield f"crossings.geojson: it crosses {shown(ways[0])}, the walk {shown(ways[1])}"
    crossed = list(dict.fromkeys(crossing["to"] for crossing in expected))
    crossed = [land for land in crossed if is_parcel(land) and land != path["parcel_id"]]
    if path["parcels_crossed"] != crossed:
        yield f"parcels_crossed is {path['parcels_crossed']}, the walk crosses {crossed}"
    for order, (feature, crossing, walk) in enumerate(zip(crossings, found, expected), 1):
        if crossing["order"] != order:
            yield f"crossings.geojson: crossing {order} has the number {crossing['order']}"
        if abs(crossing["distance_m"] - walk["distance_m"]) > PLACES_M:
            yield f"crossings.geojson: crossing {order} at {crossing['distance_m']} m, by the walk {walk['distance_m']:.3f} m"
        if abs(crossing["metres_on_land"] - walk["metres_on_land"]) > PLACES_M:
            yield f"crossings.geojson: {crossing['metres_on_land']} m on {walk['to']}, by the walk {walk['metres_on_land']:.3f} m"
        road, to = walked.roads.get(walk["to"]), [crossing[f"to_{name}"] for name in ("name", "authority", "owner")]
        holder = [road.name, road.authority, None] if road else [None, None, walked.case.owners.get(walk["to"])]
        if party(crossing, "to_") == walk["to"] and to != holder:
            yield f"crossings.geojson: name, authority and owner {to} of {walk['to']}, the case has {holder}"
        if np.abs(np.array(walked.on_map(feature["geometry"]).coords[0]) - walk["at"]).max() > ON_MAP_M:
            yield f"crossings.geojson: crossing {order} from {walk['from']} to {walk['to']} does not lie where the walk enters {walk['to']}"
        yield from carrier(walked, cells, crossing)


def carrier(walked, cells, crossing):
    """What carries the water lies on the path."""
    id = crossing["carrier_id"]
    if id is None:
        return
    on_path = {on for cell in cells if cell in walked.link_at for on in walked.pipes.chain(walked.link_at[cell]["link_id"])}
    channels = {way for cell in cells for way in walked.possible_channels(cell)[0]}
    if id not in on_path | channels:
        yield f"crossings.geojson: carried by {id} onto {party(crossing, 'to_')}, which the walk does not meet"


def between(crossings):
    return [(party(crossing, "from_"), party(crossing, "to_")) for crossing in crossings]


def shown(ways):
    return "; ".join(f"{before} to {after}" for before, after in ways) or "nothing"


def beyond(walked, path, whole):
    """Reaches and the end of the water, beyond the outlet too."""
    reaches = list(dict.fromkeys(walked.reach_at[cell]["reach_id"] for cell in whole if cell in walked.reach_at))
    if path["reaches"] != reaches:
        yield f"reaches is {path['reaches']}, the walk enters {reaches}"
    if path["ends"] != walked.end(whole[-1]):
        yield f"ends is {path['ends']}, the walk ends at {walked.end(whole[-1])} in {walked.name(whole[-1])}"
