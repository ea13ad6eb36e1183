"""Changes of the terrain: their size by cells, and whose paths cross them."""

from invariants.paths import leaving_cells, up_to_outlet

HECTARES = 1e-6


def problems(walked):
    paths = dict(drawn_paths(walked))
    for feature in walked.layers["terrain_changes"]:
        change = feature["properties"]
        for problem in of_change(walked, feature, paths):
            yield f"terrain_changes.geojson: {change['change_id']}: {problem}"
    for problem in of_ranks(walked):
        yield f"terrain_changes.geojson: {problem}"


def of_ranks(walked):
    """What depends on each place, and the order of the suspected culverts: by the hectares of the parcels whose finding changes, then by
    those whose water takes another way, then by those that drain through it, as the field dictionary has it."""
    changes = walked.properties("terrain_changes")
    for change in changes:
        if change["rerouted_ha"] is None:
            expected = None
        elif change["finding_depends"]:
            expected = "finding"
        else:
            expected = "watershed" if change["rerouted_ha"] > 0.0 else "none"
        if change["consequence"] != expected:
            yield f"{change['change_id']}: consequence is {change['consequence']} in place of {expected}"
        if (change["rank"] is not None) != (change["suspected_culvert"] and expected != "none"):
            yield f"{change['change_id']}: rank {change['rank']} of consequence {expected}"
    ranked = sorted((change for change in changes if change["rank"] is not None), key=lambda change: change["rank"])
    if [change["rank"] for change in ranked] != list(range(1, len(ranked) + 1)):
        yield f"the ranks are {[change['rank'] for change in ranked]}"
    for first, second in zip(ranked, ranked[1:]):
        more = next((by for by, (a, b) in enumerate(zip(depending(walked, first), depending(walked, second))) if abs(a - b) > 1e-5), None)
        if more is not None and depending(walked, second)[more] > depending(walked, first)[more]:
            yield f"{first['change_id']} ranks before {second['change_id']}, on which more depends"


def depending(walked, change):
    of_findings = sum(walked.parcels[id]["area_ha"] for id in change["finding_depends"] or ())
    return of_findings, -1.0 if change["rerouted_ha"] is None else change["rerouted_ha"], change["draining_ha"]


def drawn_paths(walked):
    """The cells of each share's path down to its outlet, by parcel and share."""
    leaving = leaving_cells(walked)
    for path in walked.properties("paths"):
        key = path["parcel_id"], path["share"]
        cells, _ = up_to_outlet(walked, path, walked.walk(leaving[key]))
        yield key, set(cells or ())


def of_change(walked, feature, paths):
    change, geometry = feature["properties"], feature["geometry"]
    if geometry is None or change["change_id"].startswith("C"):
        return
    if change["kind"] == "cut":
        cells = {walked.at(*point) for point in walked.on_map(geometry).coords}
    else:
        cells = walked.inside(geometry)
    if change["kind"] != "cut" and abs(change["area_ha"] - walked.hectares(len(cells))) > HECTARES:
        yield f"area_ha is {change['area_ha']}, its polygon's {walked.hectares(len(cells)):.6f}"
    through = walked.hectares(len(walked.above(cells)))
    if change["kind"] == "fill" and abs(change["draining_ha"] - through) > HECTARES:
        yield f"draining_ha is {change['draining_ha']}, {through:.6f} walk through it"
    crossing = sorted({parcel for (parcel, _), path in paths.items() if path & cells})
    if not set(crossing) <= set(change["parcels"]):
        yield f"parcels is {change['parcels']}, paths of {crossing} cross it"
