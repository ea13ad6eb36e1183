"""Changes of the terrain: their size by cells, and whose paths cross them."""

from invariants.paths import leaving_cells, up_to_outlet

HECTARES = 1e-6


def problems(walked):
    paths = dict(drawn_paths(walked))
    for feature in walked.layers["terrain_changes"]:
        change = feature["properties"]
        for problem in of_change(walked, feature, paths):
            yield f"terrain_changes.geojson: {change['change_id']}: {problem}"


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
