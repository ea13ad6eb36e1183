"""Directions and counts: every cell's water comes to an end, and as many cells drain through each cell as walk through it."""

import numpy as np

import flow
import rasters


def problems(walked):
    """`walked` could be made, so no path runs in a circle and no direction leaves the raster."""
    yield from coverage(walked)
    yield from directions(walked)
    yield from counts(walked)
    yield from endings(walked)


def coverage(walked):
    surveyed = ~np.isnan(walked.waters.surveyed)
    for name, there in (("direction.tif", walked.rasters.direction != flow.NODATA), ("ground.tif", walked.rasters.valid)):
        if (there != surveyed).any():
            yield f"{name}: data in {there.sum()} cells, {surveyed.sum()} have an elevation"


def directions(walked):
    for cell in walked.cells:
        code, next = walked.direction[cell], walked.receiver[cell]
        if next >= 0 and walked.direction[next] == flow.NODATA:
            yield f"direction.tif: {walked.name(cell)} drains to a cell without data"
        if (code == flow.CARRIED) != (cell in walked.link_at):
            yield f"direction.tif: code {code} in {walked.name(cell)}, where {walked.link_at.get(cell, {}).get('link_id')} begins"
        if next >= 0 and code != flow.CARRIED and walked.rasters.ground.flat[next] > walked.rasters.ground.flat[cell]:
            yield f"ground.tif rises along the direction from {walked.name(cell)}"


def counts(walked):
    area = walked.rasters.area_draining.ravel()
    differing = [cell for cell in walked.cells if area[cell] != walked.draining[cell]]
    for cell in differing[:3]:
        yield f"area_draining.tif: {area[cell]} in {walked.name(cell)}, {walked.draining[cell]} walk through it"
    ends = sum(walked.draining[cell] for cell in walked.cells if walked.receiver[cell] < 0)
    for name, expected in (("cells_with_elevation", len(walked.cells)), ("cells_to_ends", ends)):
        if walked.run["counts"][name] != expected:
            yield f"run.json: {name} is {walked.run['counts'][name]}, expected {expected}"


def endings(walked):
    """Inside the data water ends in kept depressions alone. One that holds no water, since a cut lowers its rim or a layer names a
    flat, is listed without a polygon."""
    kept, without_water = set(), 0
    for change in walked.layers["terrain_changes"]:
        if change["properties"]["kind"] == "kept":
            kept |= walked.inside(change["geometry"])
            without_water += change["geometry"] is None
    inside = [cell for cell in walked.cells if walked.receiver[cell] < 0 and walked.end(cell) == "kept_depression" and cell not in kept]
    if len(inside) > without_water:
        yield f"direction.tif: water ends in {walked.name(inside[0])}, inside the data and in no kept depression of terrain_changes.geojson"


def alone(case, out):
    """The same of the command `terrain`: without links."""
    made = rasters.read(out)
    receiver, valid = flow.receivers(made.direction), made.direction.ravel() != flow.NODATA
    if (valid != ~np.isnan(case.ground).ravel()).any():
        yield f"terrain: data in {valid.sum()} cells, {(~np.isnan(case.ground)).sum()} have an elevation"
    # Cells whose path is as long as a number of steps, for all numbers: what a path runs through it drains through.
    draining, here = np.zeros(receiver.size, dtype=int), np.flatnonzero(valid)
    for _ in range(receiver.size + 1):
        np.add.at(draining, here, 1)
        here = receiver[here]
        here = here[here >= 0]
    if here.size:
        yield f"terrain: {here.size} cells never come to an end"
    elif (made.area_draining.ravel()[valid] != draining[valid]).any():
        yield "terrain: area_draining.tif is not what walks through each cell"
