"""The check of capacity: its chain of links is that of the walk, its verdicts are those of its own numbers."""

import json

HECTARES = 1e-6


def problems(walked, out):
    checked = {link["link_id"]: link for link in features(out, "capacity")}
    known = walked.reach_cells.keys() | walked.links.keys()
    if checked.keys() != known:
        yield f"capacity.geojson: links {sorted(checked.keys() ^ known)} here and not in reaches and links, or the other way round"
    for id, link in checked.items():
        for problem in of_link(walked, id, link):
            yield f"capacity.geojson: {id}: {problem}"
    counts = json.loads((out / "run.json").read_text())["counts"]
    verdicts = [link["sufficiency"] for link in checked.values()]
    for word in ("sufficient", "insufficient", "not_checked"):
        if counts[f"links_{word}"] != verdicts.count(word):
            yield f"run.json: links_{word} is {counts[f'links_{word}']}, the layer has {verdicts.count(word)}"
    parcels = [parcel["sufficiency"] for parcel in features(out, "parcels")]
    for word in ("sufficient", "insufficient", "not_checked"):
        if counts[f"parcels_{word}"] != parcels.count(word):
            yield f"run.json: parcels_{word} is {counts[f'parcels_{word}']}, the layer has {parcels.count(word)}"


def features(out, name):
    return [feature["properties"] for feature in json.loads((out / f"{name}.geojson").read_text())["features"]]


def of_link(walked, id, link):
    if id in walked.links:
        draining = sum(walked.draining[inlet] for inlet in walked.pipes.inlets(id))
        following = walked.walk(walked.index(walked.links[id]["outlet_cell"]))
    else:
        last = walked.reach_cells[id][-1]
        draining, following = walked.out_of(walked.reach_at[last]), walked.walk(last)[1:]
    if abs(link["surface_ha"] - walked.hectares(draining)) > HECTARES:
        yield f"surface_ha is {link['surface_ha']}, the walk's {walked.hectares(draining):.6f}"
    joined = walked.links[id]["joins"] if id in walked.links else None
    expected = joined or next((taker for cell in following if (taker := link_in(walked, cell))), None)
    if link["next_link"] != expected:
        yield f"next_link is {link['next_link']}, the walk enters {expected} next"
    flow, capacity, ratio = (link[name] for name in ("flow_m3_per_s", "capacity_m3_per_s", "ratio"))
    if ratio is not None and capacity and abs(ratio - flow / capacity) > 0.002 * max(1.0, ratio) + 2e-6 / capacity * max(1.0, ratio):
        yield f"ratio is {ratio}, the flow {flow} over the capacity {capacity}"
    if (link["cause"] is not None) != (link["sufficiency"] == "insufficient"):
        yield f"{link['sufficiency']} with the cause {link['cause']}"
    if link["sufficiency"] == "sufficient" and (link["to_measure"] or (ratio is not None and ratio > 1.0)):
        yield f"sufficient with the ratio {ratio}, to be measured: {link['to_measure']}"


def link_in(walked, cell):
    if cell in walked.link_at:
        return walked.link_at[cell]["link_id"]
    return walked.reach_at.get(cell, {}).get("reach_id")
