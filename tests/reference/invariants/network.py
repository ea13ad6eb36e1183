"""Reaches, structures and the capacity check's chain of them: each leads where the walk leads."""

from collections import Counter


def problems(walked):
    piped = piped_cells(walked)
    for name in ("reaches", "links"):
        for item in walked.properties(name):
            id = item["reach_id" if name == "reaches" else "link_id"]
            if abs(item["piped_ha"] - walked.hectares(piped.get(id, 0))) > 1e-6:
                yield f"{name}.geojson: {id}: piped_ha is {item['piped_ha']}, by the walk {walked.hectares(piped.get(id, 0)):.6f}"
    for feature in walked.layers["reaches"]:
        reach = feature["properties"]
        for problem in of_reach(walked, reach):
            yield f"reaches.geojson: {reach['reach_id']}: {problem}"
    for link in walked.links.values():
        for problem in of_link(walked, link):
            yield f"links.geojson: {link['link_id']}: {problem}"


def piped_cells(walked):
    """Cells of tiled land by the pipe that they drain to and by the reaches that its water passes below its outlet."""
    own = Counter(walked.tiled.values())
    piped = Counter(own)
    for pipe, cells in own.items():
        below = walked.walk(walked.index(walked.links[pipe]["outlet_cell"]))
        for reach in {walked.reach_at[cell]["reach_id"] for cell in below if cell in walked.reach_at}:
            piped[reach] += cells
    return piped


def of_reach(walked, reach):
    cells = walked.reach_cells[reach["reach_id"]]
    for cell, taker in zip(cells, cells[1:]):
        if walked.receiver[cell] != taker:
            yield f"its line goes from {walked.name(cell)} to {walked.name(taker)}, water to {walked.receiver[cell]}"
    if any(cell in walked.link_at for cell in cells):
        yield "a structure takes its water in midway"
    way = walked.waterways.get(reach["waterway_id"])
    if way is None or way.kind != reach["class"]:
        yield f"{reach['waterway_id']} of the class {reach['class']} is no waterway of the case"
    elif not any(way.id in walked.near(cell) for cell in cells):
        yield f"{way.id} is not drawn near it"
    draining = walked.out_of(reach)
    if abs(reach["surface_ha"] - walked.hectares(draining)) > 1e-6:
        yield f"surface_ha is {reach['surface_ha']}, the walk's {walked.hectares(draining):.6f}"
    following = next((walked.reach_at[cell]["reach_id"] for cell in walked.walk(cells[-1])[1:] if cell in walked.reach_at), None)
    if reach["to_reach"] != following:
        yield f"to_reach is {reach['to_reach']}, the walk enters {following} next"
    first, last = (f"{cell % walked.cols}.{cell // walked.cols}" for cell in (cells[0], cells[-1]))
    lower = walked.receiver[cells[-1]]
    lower = f"{last}.end" if lower < 0 else f"{lower % walked.cols}.{lower // walked.cols}"
    if (reach["upper_node"], reach["lower_node"]) != (first, lower):
        yield f"from {reach['upper_node']} to {reach['lower_node']}, the walk from {first} to {lower}"


def of_link(walked, link):
    inlet, outlet = walked.index(link["inlet_cell"]), walked.index(link["outlet_cell"])
    if walked.receiver[inlet] != outlet:
        yield f"water of its inlet goes to {walked.name(walked.receiver[inlet])}"
    draining = sum(walked.draining[into] for into in walked.pipes.inlets(link["link_id"]))
    if abs(link["surface_ha"] - walked.hectares(draining)) > 1e-6:
        yield f"surface_ha is {link['surface_ha']}, the walk's {walked.hectares(draining):.6f}"
    for end, cell in (("inlet", inlet), ("outlet", outlet)):
        ground = walked.surveyed_m[cell]
        if abs(link[f"{end}_ground_m"] - ground) > 2e-3:
            yield f"{end}_ground_m is {link[f'{end}_ground_m']}, the elevation has {ground:.3f}"
