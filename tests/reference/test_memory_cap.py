"""The memory cap on ground that takes much: what the operating system counted against what was allowed, in working files, with the
same bytes as with plenty."""

import re

import numpy as np
import pytest

import program
import rasters
import terrains

pytestmark = pytest.mark.reference("numpy")

MOST = 1.10
SIDE = 3_000


def rough(rng):
    """A pit in every ninth cell, and as many basins."""
    return terrains.rough(rng, (SIDE, SIDE))


def lakes(rng):
    """Level lakes behind banks: one in which a search for a cut waits for its turn, one too wide to be searched."""
    ground = terrains.rolling(rng, (SIDE, SIDE)) + 20.0
    for first, side in ((100, 700), (850, 2_100)):
        within = slice(first, first + side)
        ground[within, within] = 215.0
        ground[first + 2 : first + side - 2, first + 2 : first + side - 2] = 212.0
    return ground


def least_memory(dem, out, flags):
    """Runs with as little memory as is accepted: refusals name what is needed, the last one when the ground is known."""
    allowed = 1
    for _ in range(5):
        code, message, _, most = program.run_measured("terrain", dem, "--out", out, *flags, "--max-memory", f"{allowed}MiB", "-v")
        if code == 0:
            return allowed, most, message
        assert code == 3, message
        needed = int(re.search(r"expected at least (\d+) MiB", message).group(1))
        assert needed > allowed, message
        allowed = needed
    raise AssertionError(message)


@pytest.mark.parametrize("cuts", [["--longest-cut", "0"], []], ids=["filled", "cut"])
@pytest.mark.parametrize("ground", [rough, lakes], ids=lambda ground: ground.__name__)
def test_peak_memory(ground, cuts, tmp_path, measured):
    terrain = terrains.Terrain(ground.__name__, ground(np.random.default_rng(5)).astype(np.float32))
    dem = tmp_path / "dem.tif"
    rasters.write_dem(dem, terrain)
    flags = ["--vertical-unit", "m", "--threads", "2", *cuts]
    allowed, most, message = least_memory(dem, tmp_path / "capped", flags)
    assert "into working files" in message
    assert most <= MOST * allowed
    program.run("terrain", dem, "--out", tmp_path / "plenty", *flags, "--max-memory", "8GiB")
    for file in (tmp_path / "plenty").iterdir():
        assert file.read_bytes() == (tmp_path / "capped" / file.name).read_bytes(), f"{file.name} differs"
    measured(f"{terrain.name}{', cut' if not cuts else ''}: {most:.0f} MiB at most with {allowed} MiB allowed")
