"""The checks of random cases on outputs that were spoilt on purpose: each kind of damage has to be found."""

import json
import shutil

import pytest
import rasterio

import program
import random_cases
from invariants import changes, files, network, parcels, paths, terrain, watersheds
from walked import Broken, Walked

pytestmark = pytest.mark.reference("numpy", "shapely", "rasterio")

TRIED = 60


def problems(case, folder, out):
    try:
        walked = Walked(case, out)
        found = [*files.problems(case, out), *files.inputs(folder, out), *files.counts(walked)]
        for module in (terrain, network, watersheds, paths, parcels, changes):
            found += module.problems(walked)
    except Broken as fault:
        return {str(fault)}
    return set(found)


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """The first random case that has what is spoilt below, its folder, its outputs and what is found in them as they are."""
    for seed in range(TRIED):
        case, folder = random_cases.random_case(seed), tmp_path_factory.mktemp(f"seed-{seed}")
        file = random_cases.write(case, folder / "case")
        program.run("outlets", file, "--out", folder / "out", "--quiet")
        if has_all(folder / "out"):
            return case, file.parent, folder / "out", problems(case, file.parent, folder / "out")
    raise AssertionError(f"none of {TRIED} cases has what is to be spoilt")


def has_all(out):
    mains = [path for path in properties(out, "paths") if path["main"] and path["outlet_id"] and path["parcels_crossed"] and path["reaches"]]
    changes = properties(out, "terrain_changes")
    changed = any(change["kind"] == "fill" for change in changes) and any(change["parcels"] for change in changes)
    roads = any(map(has_road, properties(out, "parcels")))
    return changed and mains and roads and any(reach["to_reach"] for reach in properties(out, "reaches")) and features(out, "links")


def features(out, name):
    return json.loads((out / f"{name}.geojson").read_text())["features"]


def properties(out, name):
    return [feature["properties"] for feature in features(out, name)]


def edit(name, change):
    """Damage that changes the features of a layer, given the list of them."""

    def spoil(out):
        collection = json.loads((out / f"{name}.geojson").read_text())
        change(collection["features"])
        (out / f"{name}.geojson").write_text(json.dumps(collection))

    return spoil


def edit_first(name, wanted, **values):
    """Damage to the first feature of a layer that is as wanted: new values, or functions of the old ones."""

    def change(found):
        item = next(feature["properties"] for feature in found if wanted(feature["properties"]))
        for key, value in values.items():
            item[key] = value(item[key]) if callable(value) else value

    return edit(name, change)


def edit_raster(name, change):
    def spoil(out):
        with rasterio.open(out / name, "r+") as dataset:
            values = dataset.read(1)
            change(values)
            dataset.write(values, 1)

    return spoil


def turned_round(direction):
    """Water of a cell comes back to the one it came from."""
    row, col = next(zip(*((direction >= 1) & (direction <= 8)).nonzero()))
    down, right = {1: (-1, 1), 2: (0, 1), 3: (1, 1), 4: (1, 0), 5: (1, -1), 6: (0, -1), 7: (-1, -1), 8: (-1, 0)}[int(direction[row, col])]
    direction[row + down, col + right] = (direction[row, col] + 3) % 8 + 1


def one_more(area):
    area[area > 0] += 1


def without_file(out):
    (out / "ground.tif").write_bytes((out / "ground.tif").read_bytes() + b" ")


def meets(path):
    return path["outlet_id"] and path["reaches"] and path["parcels_crossed"]


def has_road(parcel):
    return any(giver["kind"] == "road" for giver in parcel["receives_from"])


DAMAGE = {
    "a direction turned round": edit_raster("direction.tif", turned_round),
    "counts of cells one too high": edit_raster("area_draining.tif", one_more),
    "a byte more in a raster": without_file,
    "a crossing left out": edit("crossings", lambda found: found.pop(0)),
    "a crossing onto other land": edit_first("crossings", lambda item: True, to_id="nobody"),
    "metres on a land": edit_first("crossings", lambda item: True, metres_on_land=lambda metres: metres + 0.1),
    "a path without its outlet": edit_first("paths", meets, outlet_id=None, outlet_class=None),
    "a path with a reach too many": edit_first("paths", meets, reaches=lambda reaches: [*reaches, "W9/9"]),
    "a path with a reach too few": edit_first("paths", meets, reaches=lambda reaches: reaches[1:]),
    "a path that ends elsewhere": edit_first("paths", lambda path: path["ends"] == "edge", ends="hole"),
    "a parcel crossed too few": edit_first("paths", meets, parcels_crossed=lambda ids: ids[1:]),
    "a path's length": edit_first("paths", meets, path_m=lambda metres: metres + 0.5),
    "a path left out": edit("paths", lambda found: found.pop(0)),
    "a line that skips a place": edit("paths", lambda found: max(found, key=places)["geometry"]["coordinates"].pop(1)),
    "a watershed left out": edit("watersheds", lambda found: found.pop(0)),
    "a watershed too large": edit_first("watersheds", lambda item: True, area_ha=lambda hectares: hectares + 1.0),
    "a reach that leads nowhere": edit_first("reaches", lambda reach: reach["to_reach"], to_reach=None),
    "a reach with too much land": edit_first("reaches", lambda item: True, surface_ha=lambda hectares: hectares + 1.0),
    "a link left out": edit("links", lambda found: found.pop(0)),
    "hectares received": edit_first("parcels", lambda item: item["receives_from"], run_on_ha=lambda hectares: hectares + 0.1),
    "a giver left out": edit_first("parcels", lambda item: item["receives_from"], receives_from=lambda givers: givers[1:]),
    "a road taken for a parcel": edit_first("parcels", has_road, receives_from=lambda givers: [giver | {"kind": "parcel"} for giver in givers]),
    "a road under another name": edit_first("parcels", has_road, receives_from=lambda givers: [giver | {"name": "nobody's"} for giver in givers]),
    "a right out of nothing": edit_first(
        "parcels",
        lambda item: item["shares"] and item["shares"][0]["standing"] != "right",
        shares=lambda shares: [shares[0] | {"standing": "right", "basis": "lake"}, *shares[1:]],
    ),
    "another standing": edit_first("parcels", lambda item: item["standing"] != "right", standing="right"),
    "a change that drains more": edit_first("terrain_changes", lambda item: item["kind"] == "fill", draining_ha=lambda hectares: hectares + 1.0),
    "a change that no path crosses": edit_first("terrain_changes", lambda item: item["parcels"], parcels=[]),
    "a ring that crosses itself": edit("watersheds", lambda found: found[0].update(geometry=bow(found[0]["geometry"]))),
}


def places(path):
    return len(path["geometry"]["coordinates"]) if path["geometry"] else 0


def bow(geometry):
    (west, south), (east, north) = geometry["coordinates"][0][0][0], geometry["coordinates"][0][0][2]
    return {"type": "Polygon", "coordinates": [[[west, south], [east, north], [east, south], [west, north], [west, south]]]}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damage_is_found(damage, worked, tmp_path):
    case, folder, out, as_it_is = worked
    shutil.copytree(out, tmp_path / "out")
    DAMAGE[damage](tmp_path / "out")
    found = problems(case, folder, tmp_path / "out") - as_it_is
    # Any damage changes a digest; that alone is no proof that what it says was looked at.
    told = [problem for problem in found if "digest" not in problem or damage == "a byte more in a raster"]
    assert told, f"{damage} is not found"
