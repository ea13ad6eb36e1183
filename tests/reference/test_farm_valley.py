"""Real lidar of a farm valley with vectors drawn from the terrain: does water pass where the ground shows that it must?"""

import shutil

import pytest
import shapely
from shapely.geometry import shape

import balance
import cases
import program
import projection

CRS = "EPSG:3794"
FIXTURE = program.ROOT / "fixtures/farm_valley"
# Crossings left out of the culvert layer, noted from a hillshade before anything was computed (the fixture's README).
LEFT_OUT = [
    (564138, 146315),
    (564579, 146074),
    (564500, 146920),
    (564436, 146905),
    (564671, 146021),
    (564232, 146198),
    (564060, 146270),
    (564342, 146064),
    (564603, 146263),
]
NEAR_M = 20.0
# One of the nine spills either way (the fixture's README).
LEAST_FOUND = 8


@pytest.fixture(scope="module")
def valley(real_data, tmp_path_factory):
    folder = tmp_path_factory.mktemp("valley") / "case"
    shutil.copytree(FIXTURE, folder)
    (folder / "dtm_1m.tif").symlink_to(real_data / "farm_valley/dtm_1m.tif")
    return cases.outlets(folder / "case.toml", folder.parent / "out")


@pytest.mark.reference("numpy")
def test_every_parcel_balances(valley, measured):
    balance.assert_balanced(valley)
    assert valley.run["counts"]["parcels"] >= 40
    counts = valley.run["counts"]
    assert counts["cells_with_elevation"] == counts["cells_to_ends"]
    measured(f"{counts['parcels']} invented parcels on real lidar balance to the cell")


@pytest.mark.reference("shapely", "pyproj")
def test_crossings_left_out_are_suspected(valley, measured):
    suspected = [
        projection.from_lonlat(shape(feature["geometry"]), CRS)
        for feature in valley.features("terrain_changes")
        if feature["properties"]["suspected_culvert"]
    ]
    found = [place for place in LEFT_OUT if shapely.Point(place).distance(shapely.union_all(suspected)) <= NEAR_M]
    fills = [f["properties"] for f in valley.features("terrain_changes") if f["properties"]["kind"] == "fill"]
    deep = [fill for fill in fills if fill["depth_m"] > 0.3]
    measured(
        f"{len(found)} of {len(LEFT_OUT)} crossings left out are suspected, among {len(suspected)} places; "
        f"{len(deep)} depressions stay filled deeper than 0.3 m, {sum(f['area_ha'] for f in deep):.3f} ha in all"
    )
    assert len(found) >= LEAST_FOUND, f"not found: {sorted(set(LEFT_OUT) - set(found))}"
