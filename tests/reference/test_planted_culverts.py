"""Culverts left out of the layer: are they suspected, and is what is suspected one of them?

The truth is planted: the demonstration without its culverts, lowland of which the program sees the elevation alone or the
roads as well, and rough ground that has none. Seeds here were not used to choose any figure of the program.
"""

import json
import re
import shutil

import numpy as np
import pytest
import shapely

import cases
import forest
import lowland
import projection
import rasters

pytestmark = pytest.mark.reference("numpy", "shapely")

# A suspected place this near to a planted culvert is that culvert (our choice: about the width of a road).
NEAR_M = 15.0
HELD_BACK_HA = 0.5
SEEDS = range(3001, 3013)
# The aims are 97 % found and 90 % right. Floors stand just under what was measured: on lowland 94.3 % and 98.3 %, in the
# demonstration 100 % and 75 %. What is missed on lowland holds back less than 0.3 m: water gets around the road through a side
# ditch. What is wrong in the demonstration are roads that hold water back with every culvert of its layer in place.
LOWLAND_FOUND, LOWLAND_RIGHT = 0.94, 0.96
DEMONSTRATION_FOUND, DEMONSTRATION_RIGHT = 1.0, 0.75

FOREST_SEEDS = range(7001, 7003)
MOST_IN_10_HA = 1.0

CASE = """name = "Invented lowland"
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
[parcels]
source = "parcels.geojson"
id = "roll"
"""
ROADS = '[roads]\nsource = "roads.geojson"\n'
CULVERTS = '[[culverts]]\nsource = "culverts.geojson"\n'
# The survey names culverts, so it goes with them.
LEVELS = '[[levels]]\nsource = "surveyed_levels.csv"\n'


class Score:
    """Planted culverts found, and suspected places that are planted culverts."""

    def __init__(self):
        self.found, self.planted, self.right, self.suspected = 0, 0, 0, 0
        self.missed, self.wrong = [], []

    def add(self, name, planted, draining_ha, case, crs):
        """`draining_ha` is what drains through each planted culvert where it is mapped."""
        changes = [change for change in case.features("terrain_changes") if change["properties"]["suspected_culvert"]]
        places = [projection.from_lonlat(shapely.geometry.shape(change["geometry"]), crs) for change in changes]
        near = np.array([[place.distance(culvert) <= NEAR_M for place in places] for culvert in planted], dtype=bool)
        near = near.reshape(len(planted), len(places))
        matters = np.array(draining_ha) > HELD_BACK_HA
        self.found += int((near.any(axis=1) & matters).sum())
        self.planted += int(matters.sum())
        self.right += int(near.any(axis=0).sum())
        self.suspected += len(places)
        self.missed += [(name, planted[at].centroid.wkt) for at in np.flatnonzero(matters & ~near.any(axis=1))]
        self.wrong += [(name, changes[at]["properties"], places[at].centroid.wkt) for at in np.flatnonzero(~near.any(axis=0))]

    def __str__(self):
        return (
            f"{self.found} of {self.planted} culverts that hold back more than {HELD_BACK_HA} ha suspected"
            f" ({self.found / self.planted:.1%}); {self.right} of {self.suspected} suspected places are planted culverts"
            f" ({self.right / self.suspected:.1%})"
        )


def write_layer(path, geometries):
    features = [
        {
            "type": "Feature",
            "properties": {"id": f"{number}"},
            "geometry": json.loads(shapely.to_geojson(projection.to_lonlat(geometry, rasters.CRS))),
        }
        for number, geometry in enumerate(geometries)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def run(folder, name, text):
    (folder / f"{name}.toml").write_text(text)
    return cases.outlets(folder / f"{name}.toml", folder / name)


def draining_ha(case):
    """What drains through each mapped culvert, by its id, hectares."""
    return {link["properties"]["link_id"]: link["properties"]["surface_ha"] for link in case.features("links")}


@pytest.fixture(scope="module")
def scores(tmp_path_factory):
    """On lowland: with roads and without."""
    scores = {"roads": Score(), "no roads": Score()}
    for seed in SEEDS:
        folder = tmp_path_factory.mktemp(f"lowland-{seed}")
        land = lowland.lowland(seed, cell=1.0 + seed % 2)
        rasters.write_dem(folder / "dem.tif", land.terrain)
        corner = (rasters.WEST, rasters.NORTH - 40.0, rasters.WEST + 40.0, rasters.NORTH)
        cases.write_one_parcel(folder / "parcels.geojson", corner, rasters.CRS)
        write_layer(folder / "roads.geojson", land.roads)
        write_layer(folder / "culverts.geojson", land.culverts)
        held_back = draining_ha(run(folder, "mapped", CASE + ROADS + CULVERTS))
        held_back = [held_back.get(f"{number}", 0.0) for number in range(len(land.culverts))]
        for name, text in (("roads", CASE + ROADS), ("no roads", CASE)):
            case = run(folder, name.replace(" ", "-"), text)
            scores[name].add(land.terrain.name, land.culverts, held_back, case, rasters.CRS)
    return scores


@pytest.mark.parametrize("layer", ["roads", "no roads"])
def test_lowland(scores, layer, measured):
    score = scores[layer]
    measured(f"{layer}: {score}")
    print(*score.missed, *score.wrong, sep="\n")
    assert score.found / score.planted >= LOWLAND_FOUND
    assert score.right / score.suspected >= LOWLAND_RIGHT


@pytest.mark.parametrize("layer", ["roads", "no roads"])
def test_demonstration(demonstration, layer, tmp_path, measured):
    shutil.copytree(demonstration.file.parent, tmp_path / "case")
    text = demonstration.file.read_text().replace(CULVERTS, "").replace(LEVELS, "")
    text = text if layer == "roads" else re.sub(r"\[roads\]\n([^\[\n].*\n)*", "", text)
    assert "[[culverts]]" not in text and LEVELS not in text and ("[roads]" in text) == (layer == "roads")
    case = run(tmp_path / "case", "unmapped", text)
    crs = demonstration.parcel_polygons()[0]
    mapped = draining_ha(demonstration)
    culverts = json.loads((tmp_path / "case/culverts.geojson").read_text())["features"]
    planted = [projection.from_lonlat(shapely.geometry.shape(culvert["geometry"]), crs) for culvert in culverts]
    score = Score()
    score.add("demonstration", planted, [mapped[culvert["properties"]["id"]] for culvert in culverts], case, crs)
    measured(f"{layer}: {score}")
    print(*score.missed, *score.wrong, sep="\n")
    assert score.found / score.planted >= DEMONSTRATION_FOUND
    assert score.right / score.suspected >= DEMONSTRATION_RIGHT


@pytest.mark.parametrize("layer", ["roads", "no roads"])
def test_forest(layer, tmp_path, measured):
    """Rough ground without any culvert: places of consequence there would be walks for nothing."""
    suspected, ranked, hectares = 0, 0, 0.0
    for seed in FOREST_SEEDS:
        folder = tmp_path / f"{seed}"
        folder.mkdir()
        terrain, track = forest.forest(seed)
        rasters.write_dem(folder / "dem.tif", terrain)
        corner = (rasters.WEST, rasters.NORTH - forest.SIZE_M, rasters.WEST + forest.SIZE_M, rasters.NORTH)
        cases.write_one_parcel(folder / "parcels.geojson", corner, rasters.CRS)
        write_layer(folder / "roads.geojson", [track])
        case = run(folder, "forest", CASE + (ROADS if layer == "roads" else ""))
        changes = [change["properties"] for change in case.features("terrain_changes")]
        suspected += sum(change["suspected_culvert"] for change in changes)
        ranked += sum(change["rank"] is not None for change in changes)
        hectares += terrain.elevation.size / 10_000.0
    measured(f"{layer}: in {hectares:.0f} ha {ranked} places of consequence, {suspected - ranked} without")
    assert ranked / hectares * 10.0 < MOST_IN_10_HA
