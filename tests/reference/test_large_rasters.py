"""The checks of filling and accumulation on nine million cells: many tiles of the engine, flats and holes across them. What is
checked was worked out in memory, and again in working files with the same bytes."""

import numpy as np
import pytest

import program
import rasters
import terrains
from test_accumulation import assert_accumulation
from test_filling import filled_by_reconstruction

SIDE = 3_000


def random(rng):
    return terrains.rolling(rng, (SIDE, SIDE))


def quantised(rng):
    """Steps of half a metre: level ground of up to two million connected cells."""
    return np.round(terrains.rolling(rng, (SIDE, SIDE)) * 2.0) / 2.0


def with_nodata(rng):
    return terrains.with_holes(rng, terrains.stepped(rng, (SIDE, SIDE)))


@pytest.fixture(scope="module", params=[random, quantised, with_nodata], ids=lambda kind: kind.__name__)
def large(request, tmp_path_factory):
    ground = request.param(np.random.default_rng(3)).astype(np.float32)
    terrain = terrains.Terrain(request.param.__name__, ground)
    folder = tmp_path_factory.mktemp(terrain.name)
    found = rasters.condition(terrain, folder)
    on_file = ["--longest-cut", 0, "--vertical-unit", "m", "--max-memory", "250MiB", "--threads", 2]
    program.run("terrain", folder / "dem.tif", "--out", folder / "on_file", *on_file)
    for file in (folder / "out").iterdir():
        assert file.read_bytes() == (folder / "on_file" / file.name).read_bytes(), f"{file.name} differs in working files"
    return terrain, found


@pytest.mark.reference("scikit-image", "numpy")
def test_a_large_raster_is_filled_as_by_reconstruction(large, measured):
    terrain, found = large
    expected = filled_by_reconstruction(terrain.elevation)
    np.testing.assert_array_equal(found.ground, expected)
    measured(f"{terrain.name}: {np.count_nonzero(expected > terrain.elevation)} of {expected.size} cells raised, all equal")


@pytest.mark.reference("scipy")
def test_area_draining_of_a_large_raster_solves_the_equations(large, measured):
    terrain, found = large
    assert_accumulation(found)
    measured(f"{terrain.name}: {found.valid.sum()} cells with elevation, at most {found.area_draining.max()} through one, all equal")
