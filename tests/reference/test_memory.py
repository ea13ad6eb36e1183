"""Memory that the main job says it needs: with less it refuses and names the amount, with as much it runs and stays within."""

import re

import numpy as np
import pyogrio
import pytest
import shapely
from scipy import ndimage

import cases
import program
import rasters
import terrains

SIDE, CELL_M, LOT_M = 2_500, 2.0, 100.0
DRAIN_EVERY = 500
# The aim for peak memory against the memory allowed.
MOST_OF_ALLOWED = 1.10
CASE = """
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
[parcels]
source = "parcels.gpkg"
id = "roll"
owner = "owner"
[[waterways]]
source = "drains.gpkg"
id = "id"
class = "municipal_drain"
"""


@pytest.fixture(scope="module")
def case(tmp_path_factory):
    """2,500 parcels on rolling ground that falls to drains, with hollows to cut open and to fill."""
    folder = tmp_path_factory.mktemp("memory")
    row, col = np.indices((SIDE, SIDE), dtype=np.float32)
    rolling = 2.0 * ndimage.gaussian_filter(np.random.default_rng(4).normal(size=(SIDE, SIDE)), 8.0)
    ground = 200.0 - 0.01 * row + 0.02 * np.abs(col % DRAIN_EVERY - DRAIN_EVERY / 2) + rolling
    rasters.write_dem(folder / "dem.tif", terrains.Terrain("valleys", ground.astype(np.float32), (CELL_M, CELL_M)))
    south, east = rasters.NORTH - SIDE * CELL_M, rasters.WEST + SIDE * CELL_M
    cases.write_square_parcels(folder / "parcels.gpkg", shapely.box(rasters.WEST, south, east, rasters.NORTH), rasters.CRS, LOT_M)
    middles = rasters.WEST + CELL_M * (np.arange(DRAIN_EVERY / 2, SIDE, DRAIN_EVERY) + 0.5)
    drains = shapely.linestrings([[[x, rasters.NORTH - 1], [x, south + 1]] for x in middles])
    ids = np.array([f"D{number}" for number in range(len(drains))], dtype=object)
    lines = dict(geometry_type="LineString", crs=rasters.CRS)
    pyogrio.raw.write(folder / "drains.gpkg", shapely.to_wkb(drains), [ids], ["id"], **lines)
    (folder / "case.toml").write_text(CASE)
    return folder / "case.toml"


@pytest.mark.reference("pyogrio", "rasterio", "scipy")
def test_the_main_job_stays_within_the_memory_that_it_says_it_needs(case, tmp_path, measured):
    out = tmp_path / "out"

    def outlets(mebibytes):
        return program.run_measured("outlets", case, "--out", out, "--max-memory", f"{mebibytes}MiB")

    def needed_at(mebibytes):
        return int(re.search(r"at least (\d+) MiB", outlets(mebibytes)[1]).group(1))

    # What the cells need is reported at once, and what the parcels need besides once they are read.
    needed = needed_at(needed_at(1))
    code, message, _, refused_at = outlets(needed - 1)
    assert code == 3 and f"at least {needed} MiB" in message and not out.exists(), message
    code, message, _, peak = outlets(needed)
    assert code == 0 and (out / "run.json").exists(), message
    assert peak <= MOST_OF_ALLOWED * needed, f"{peak:.0f} MiB of {needed} allowed"
    measured(f"{SIDE**2} cells: {peak:.0f} MiB at the peak of {needed} allowed; refused in {refused_at:.0f} MiB")
