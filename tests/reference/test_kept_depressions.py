"""Depressions kept by size: every one that exceeds the thresholds, beside another or inside it, land and storage counted once.

The reference fills and separates with scikit-image (`reconstruction`, `label`). Lakes are planted, so that their number is known,
or lie where random ground has them.
"""

import numpy as np
import pytest
import shapely

import cases
import kept_depressions
import projection
import rasters
from terrains import Terrain, rolling, stepped, terraced, with_holes

pytestmark = pytest.mark.reference("scikit-image", "scipy", "shapely")

CELL_M = 2.0
SIZE = 120
CASE = """name = "Invented land with lakes"
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
longest_cut_m = 0
keep_larger = {{ depth_m = {}, area_ha = {}, volume_m3 = {} }}
[parcels]
source = "parcels.geojson"
id = "roll"
"""


def with_bowls(bowls):
    """A plain that falls to the east, and cones in it: column, row, metres at the bottom below the plain's level at its
    middle, metres across at the plain."""
    rows, cols = np.indices((SIZE, SIZE))
    plain = 100.0 - 0.002 * cols
    ground = plain.copy()
    for col, row, depth, across in bowls:
        away = CELL_M * np.hypot(cols - col, rows - row)
        ground = np.minimum(ground, 100.0 - 0.002 * col - depth + away * depth / (across / 2.0))
    return ground


# Name, bowls, how many lakes are deeper than 0.5 m, larger than 0.02 ha and than 50 m³ once each has its own water level.
PLANTED = [
    ("apart", [(30, 30, 2.0, 60.0), (90, 80, 1.5, 60.0)], 2),
    ("too small", [(30, 30, 2.0, 60.0), (90, 80, 0.3, 60.0), (80, 20, 2.0, 10.0)], 1),
    # Under one level; the saddle between the two lies lower than the plain.
    ("touching", [(40, 60, 2.5, 80.0), (62, 60, 2.0, 80.0)], 2),
    # A chain of three: the third one is inside what is left of the second.
    ("chain", [(30, 60, 3.0, 80.0), (52, 60, 2.6, 80.0), (74, 60, 2.2, 80.0)], 3),
    # A broad shallow basin with three lakes in its floor, the deepest of which has the basin's water too.
    ("nested", [(60, 60, 1.0, 220.0), (40, 60, 3.0, 40.0), (70, 45, 2.5, 40.0), (75, 75, 2.8, 40.0)], 3),
    ("equal", [(40, 60, 2.0, 80.0), (62, 60, 2.044, 80.0)], 2),
]
RANDOM = [
    (kind, holed, seed)
    for kind in (rolling, stepped, terraced)
    for holed in (False, True)
    for seed in range(4101, 4104)
]


def terrain_of(kind, holed, seed):
    rng = np.random.default_rng([seed, *kind.__name__.encode()])
    ground = kind(rng, (70, 90))
    return with_holes(rng, ground) if holed else ground


def check(tmp_path, elevation, size):
    """Returns the kept depressions of the reference."""
    elevation = elevation.astype(np.float32)
    rasters.write_dem(tmp_path / "dem.tif", Terrain("invented", elevation, (CELL_M, CELL_M)))
    rows, cols = elevation.shape
    corner = (rasters.WEST, rasters.NORTH - CELL_M * rows, rasters.WEST + CELL_M * cols, rasters.NORTH)
    cases.write_one_parcel(tmp_path / "parcels.geojson", corner, rasters.CRS)
    (tmp_path / "case.toml").write_text(CASE.format(*size))
    case = cases.outlets(tmp_path / "case.toml", tmp_path / "out")
    expected, sinks, whole_cells, whole_m3 = kept_depressions.kept(elevation, CELL_M**2, *size)
    found = [change for change in case.features("terrain_changes") if change["properties"]["kind"] == "kept"]
    assert case.run["counts"]["depressions_kept"] == len(found) == len(expected)
    cell_ha = CELL_M**2 / 10_000.0

    # Lakes of one level and area are a matter of order alone.
    def by_size(kept):
        return sorted(kept, key=lambda each: [round(value, 2) for value in each])

    found_sizes = [[change["properties"][name] for name in ("level_m", "area_ha", "depth_m", "volume_m3")] for change in found]
    expected_sizes = [[kept.level_m, kept.cells * cell_ha, kept.depth_m, kept.volume_m3] for kept in expected]
    for one, other in zip(by_size(found_sizes), by_size(expected_sizes), strict=True):
        assert one == pytest.approx(other, abs=0.002)
    np.testing.assert_array_equal(case.rasters.ground, kept_depressions.filled(elevation, sinks))
    # Land and storage add up to those of the lakes as one.
    assert sum(size[1] for size in found_sizes) == pytest.approx(whole_cells * cell_ha, abs=1e-6)
    assert sum(size[3] for size in found_sizes) == pytest.approx(whole_m3, abs=0.002 * max(1, len(found)))
    shapes = [shapely.geometry.shape(change["geometry"]) for change in found if change["geometry"]]
    union = projection.from_lonlat(shapely.union_all(shapes, grid_size=1e-10), rasters.CRS)
    assert union.area == pytest.approx(whole_cells * CELL_M**2, abs=0.5)
    return expected


@pytest.mark.parametrize(("name", "bowls", "lakes"), PLANTED, ids=[name for name, *_ in PLANTED])
def test_planted_lakes(name, bowls, lakes, tmp_path, measured):
    expected = check(tmp_path, with_bowls(bowls), (0.5, 0.02, 50.0))
    assert len(expected) == lakes
    measured(f"{name}: {lakes} kept, {sum(kept.cells for kept in expected) * CELL_M**2 / 10_000.0:.2f} ha")


@pytest.mark.parametrize(("kind", "holed", "seed"), RANDOM)
def test_random_ground(kind, holed, seed, tmp_path, measured):
    expected = check(tmp_path, terrain_of(kind, holed, seed), (0.05, 0.002, 1.0))
    assert expected
    measured(f"{kind.__name__}-{seed}: {len(expected)} kept")
