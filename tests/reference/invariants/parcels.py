"""Parcels: hectares by whole cells, whose water comes, and standings beside what the water meets and what lies at the parcel."""

import json
from collections import Counter

import shapely

from invariants.paths import leaving_cells
from road_lands import Road, party

BY_FRONTAGE = ("frontage", "assessed_by_schedule")
HECTARES = 1e-6


def problems(walked):
    if list(walked.parcels) != sorted(walked.case.parcels):
        yield f"parcels.geojson: parcels {list(walked.parcels)}, the case has {sorted(walked.case.parcels)}"
        return
    leaving = leaving_cells(walked)
    arriving = arrivals(walked)
    for id, parcel in walked.parcels.items():
        for problem in [*cells(walked, parcel), *received(walked, parcel, arriving[id]), *standing(walked, parcel, leaving)]:
            yield f"parcels.geojson: parcel {id}: {problem}"


def cells(walked, parcel):
    yield from sums(parcel)
    own = walked.hectares(len(walked.own.get(parcel["parcel_id"], [])))
    if abs(parcel["own_ha"] - own) > HECTARES:
        yield f"own_ha is {parcel['own_ha']}, {own:.6f} ha of cells lie on it"
    piped = walked.hectares(sum(cell in walked.tiled for cell in walked.own.get(parcel["parcel_id"], [])))
    if abs(parcel["piped_ha"] - piped) > HECTARES:
        yield f"piped_ha is {parcel['piped_ha']}, {piped:.6f} ha of its cells are tiled"
    area = walked.case.parcels[parcel["parcel_id"]].area / 10_000.0
    if abs(parcel["area_ha"] - area) > HECTARES:
        yield f"area_ha is {parcel['area_ha']}, the polygon's {area:.6f}"
    if parcel["owner"] != walked.case.owners[parcel["parcel_id"]]:
        yield f"the owner {parcel['owner']}"


def sums(parcel):
    """A schedule may give a right for a part of a share, so these are no whole cells."""
    shares = parcel["shares"]
    expected = {
        "contributing_ha": parcel["own_ha"] + parcel["run_on_ha"],
        "own_ha": sum(share["hectares"] for share in shares),
        "run_on_ha": sum(giver["hectares"] for giver in parcel["receives_from"]),
        **{f"{word}_ha": sum(s["hectares"] for s in shares if s["standing"] == word) for word in ("right", "acquire", "undecided")},
    }
    for name, total in expected.items():
        if abs(parcel[name] - total) > HECTARES * (1 + len(shares) + len(parcel["receives_from"])):
            yield f"{name} is {parcel[name]}, its parts sum to {total:.6f}"
    if abs(parcel["own_ha"] - sum(parcel[f"{word}_ha"] for word in ("right", "acquire", "undecided"))) > 4.0 * HECTARES:
        yield f"own_ha is {parcel['own_ha']}, its standings do not sum to it"


def arrivals(walked):
    """For each parcel the cells of others whose water touches it, by party."""
    arriving = {id: Counter() for id in walked.parcels}
    for cell in walked.cells:
        for land in walked.touched[cell] - {walked.party[cell]}:
            if land in arriving:
                arriving[land][walked.party[cell]] += 1
    return arriving


def received(walked, parcel, arriving):
    found = {party(giver): giver["hectares"] for giver in parcel["receives_from"]}
    expected = {land: walked.hectares(count) for land, count in arriving.items()}
    if found.keys() != expected.keys() or any(abs(found[land] - expected[land]) > HECTARES for land in found):
        yield f"receives_from is {found}, by the walk {expected}"
    for giver in parcel["receives_from"]:
        road = walked.roads.get(party(giver), Road(None))
        if (giver.get("name"), giver.get("authority")) != (road.name, road.authority):
            yield f"receives_from names {giver}, the case {road.name} of {road.authority}"


def standing(walked, parcel, leaving):
    shares = parcel["shares"]
    for share in shares:
        if share["standing"] == "right":
            yield from right(walked, parcel, share, leaving.get((parcel["parcel_id"], share["share"])))
        elif share["basis"] is not None:
            yield f"share {share['share']} is {share['standing']} on the basis of {share['basis']}"
    drawn = [share for share in shares if share["leaving_point"] is not None] or shares
    rights = [share["standing"] == "right" for share in drawn]
    expected = "right" if all(rights) and rights else "right_in_part" if any(rights) else None
    found = parcel["standing"]
    if expected != (found if found in ("right", "right_in_part") else None):
        yield f"standing is {found}, its shares {[share['standing'] for share in shares]}"
    # The remainder of small groups decides nothing.
    bases = {share["basis"] for share in drawn if share["basis"] is not None}
    if not bases <= set(parcel["bases"]):
        yield f"bases is {parcel['bases']}, those of its shares {sorted(bases)}"
    order = [kind for kind in walked.classes if kind in parcel["bases"]]
    if parcel["basis"] != (order[0] if order else None) or parcel["bases"] != order:
        yield f"basis is {parcel['basis']} and bases {parcel['bases']}, in the order of the profile {order}"


def right(walked, parcel, share, leaving):
    """A right rests on a lawful outlet of its class that the water meets and, where the class asks for it, that the parcel touches."""
    kind = share["basis"]
    if kind is None or not walked.is_lawful(kind):
        yield f"share {share['share']} has a right on the basis of {kind}"
        return
    if leaving is None:
        return
    certain, possible = walked.met(leaving)
    met = [id for id in sorted(certain | possible) if walked.kind_of(id) == kind]
    if not met:
        yield f"share {share['share']} has a right on the basis of {kind}, and the walk meets no such outlet"
        return
    if walked.classes[kind]["provision"] in BY_FRONTAGE and not any(touches(walked, parcel["parcel_id"], id) for id in met):
        yield f"share {share['share']} has a right by frontage on {' or '.join(met)}, none of which is near the parcel"
    evidence = {item["feature_id"] for item in parcel["evidence"]}
    if not evidence & set(met):
        yield f"share {share['share']} has a right on the basis of {kind}, and evidence names none of {met}"


def touches(walked, parcel, feature):
    """Within the tolerance of frontage and the accuracy of boundaries. An enclosed drain may be moved to a channel nearby."""
    polygon, reach = walked.case.parcels[parcel], walked.case.tolerance_m + walked.case.accuracy_m
    if feature in walked.waterways:
        way = walked.waterways[feature]
        return polygon.distance(way.shape) <= reach + (way.width_m or 0.0) / 2.0 + 1e-6
    return polygon.distance(walked.pipes.course(feature)) <= reach + 1e-6


# The command `trace`


def of_trace(walked, id, printed):
    """`trace --parcel ID --json`: the crossings and paths of the main job once more."""
    features = [feature["properties"] for feature in json.loads(printed)["features"]]
    for kind, layer in (("crossing", "crossings"), ("path", "paths")):
        found = [without(feature, "kind") for feature in features if feature["kind"] == kind and feature["water"] == "surface"]
        expected = [without(item, "parcel_id") for item in walked.properties(layer) if item["parcel_id"] == id]
        common = [name for name in expected[0] if name in found[0]] if found and expected else []
        if [[item[name] for name in common] for item in found] != [[item[name] for name in common] for item in expected]:
            yield f"trace prints {len(found)} of the kind {kind} that differ from the {len(expected)} of {layer}.geojson"
        if len(found) != len(expected):
            yield f"trace prints {len(found)} of the kind {kind}, {layer}.geojson has {len(expected)}"


def without(properties, name):
    return {key: value for key, value in properties.items() if key != name}


def of_trace_upstream(walked, inside, printed):
    """`trace --upstream --json`: all cells whose water comes to some cells from outside."""
    features = [feature["properties"] for feature in json.loads(printed)["features"]]
    given = {party(feature, "from_"): feature for feature in features if feature["kind"] == "giver"}
    expected = ways(walked, inside)
    by_party = Counter()
    for (land, _), count in expected.items():
        by_party[land] += count
    found = {land: feature["hectares"] for land, feature in given.items()}
    if found.keys() != by_party.keys() or any(abs(found[land] - walked.hectares(by_party[land])) > HECTARES for land in found):
        yield f"trace --upstream lists {found}, by the walk {dict(by_party)} cells"
        return
    listed = {(land, tuple(map(party, way["through"]))): way["hectares"] for land, feature in given.items() for way in feature["ways"]}
    differing = [key for key in listed.keys() | expected.keys() if abs(listed.get(key, 0.0) - walked.hectares(expected.get(key, 0))) > HECTARES]
    for key in sorted(differing, key=str)[:3]:
        yield f"trace --upstream lists {listed.get(key)} ha of {key[0]} through {key[1]}, by the walk {walked.hectares(expected.get(key, 0)):.6f}"
    inflows = sum(feature["hectares"] for feature in features if feature["kind"] == "inflow")
    if abs(inflows - walked.hectares(sum(by_party.values()))) > 1e-5:
        yield f"trace --upstream lists inflows of {inflows} ha, by the walk {walked.hectares(sum(by_party.values())):.6f}"


def ways(walked, inside):
    """Cells outside by party and by what lies on the way: lands and structures in order, each once, the giver's own land left out."""
    inside = set(inside)
    through, found = {}, Counter()
    for cell in walked.downstream_first:
        next = walked.receiver[cell]
        if cell in inside or (next not in inside and next not in through):
            continue
        way = () if next in inside else through[next]
        if next not in inside and walked.party[next] != walked.party[cell]:
            way = (walked.party[next], *way)
        if cell in walked.link_at:
            way = (*(("structure", on) for on in walked.pipes.chain(walked.link_at[cell]["link_id"])), *way)
        through[cell] = way
        own = walked.party[cell]
        found[own, tuple(stretch for stretch in dict.fromkeys(way) if stretch != own)] += 1
    return found


def converse(walked, leaving, arriving_at):
    """Whose land the water of a share runs over has that parcel among those whose water arrives. Land above a structure, of which
    the water touches no cell, is crossed and not touched."""
    crossed = {(crossing["parcel_id"], crossing["share"], party(crossing, "to_")) for crossing in walked.properties("crossings")}
    for giver, share, taker in sorted(crossed, key=str):
        if taker == giver or taker not in arriving_at or taker not in walked.touched[leaving[giver, share]]:
            continue
        if giver not in arriving_at[taker]:
            yield f"water of {giver} crosses {taker}, and trace --upstream of {taker} does not list it"


def givers(printed):
    features = [feature["properties"] for feature in json.loads(printed)["features"]]
    return {party(feature, "from_") for feature in features if feature["kind"] == "giver"}
