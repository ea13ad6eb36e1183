"""Water spread over two neighbours: its sum, and its shares worked out anew from the definition of D-infinity.

Tarboton (1997), Water Resources Research 33(2), 309–319: eight triangular facets around a cell, the steepest takes all, and
divides it by the angle between its steepest fall and its two neighbours.
"""

import numpy as np
import pytest
import rasterio
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve

import flow
import program
import rasters
import terrains

# The program counts in whole millionths (2⁻²⁰) of a cell and rounds shares to 2⁻³¹.
UNIT, SHARE_UNIT = 2.0**-20, 2.0**-31
# Column and row steps to the side neighbour and the diagonal neighbour of each facet, counter-clockwise from east: of equally
# steep facets the first is taken.
FACETS = [
    ((1, 0), (1, -1)),
    ((0, -1), (1, -1)),
    ((0, -1), (-1, -1)),
    ((-1, 0), (-1, -1)),
    ((-1, 0), (-1, 1)),
    ((0, 1), (-1, 1)),
    ((0, 1), (1, 1)),
    ((1, 0), (1, 1)),
]
# Slopes that differ by less are equal: symmetric facets on float32 levels.
SAME_SLOPE = 1e-12
# Rises per column and per row in 64ths of a metre: planes that float32 holds exactly, falling in every direction.
PLANES = [(-8, 0), (0, 8), (-6, 6), (-7, 3), (-1, -7), (2, 5), (9, -2), (5, 8), (-3, 1)]


def spread_over(terrain, folder):
    """The rasters of `fallwright terrain`, and its spread."""
    dem, out = folder / "dem.tif", folder / "out"
    rasters.write_dem(dem, terrain)
    program.run("terrain", dem, "--out", out, "--vertical-unit", "m", "--longest-cut", 0, "--spread")
    return rasters.read(out), rasters.read_band(out / "area_draining_spread.tif")


def legs(facet, cell):
    """Metres from a cell to the facet's side neighbour, and from there to its diagonal neighbour."""
    return cell if facet[0][1] == 0 else cell[::-1]


def facet_shares(z, cell):
    """For each facet and inner cell, the shares of the side neighbour and the diagonal one: not 0 on one facet only."""

    def neighbour(step):
        return z[1 + step[1] : z.shape[0] - 1 + step[1], 1 + step[0] : z.shape[1] - 1 + step[0]]

    slopes, shares = [], []
    for facet in FACETS:
        along_m, across_m = legs(facet, cell)
        here, side, diagonal = neighbour((0, 0)), neighbour(facet[0]), neighbour(facet[1])
        widest = np.arctan2(across_m, along_m)
        turn = np.clip(np.arctan2((side - diagonal) / across_m, (here - side) / along_m), 0.0, widest)
        # The fall along a direction inside the facet is the plane's gradient times that direction.
        slopes.append((here - side) / along_m * np.cos(turn) + (side - diagonal) / across_m * np.sin(turn))
        shares.append(1.0 - turn / widest)
    most = np.max(slopes, axis=0)
    assert most.min() > 0.0, "the surface has a flat"
    steepest = np.argmax(slopes >= most - SAME_SLOPE, axis=0)
    chosen = [steepest == number for number in range(len(FACETS))]
    return [(np.where(here, share, 0.0), np.where(here, 1.0 - share, 0.0)) for here, share in zip(chosen, shares, strict=True)]


def plane_shares(rises, shape, cell):
    """The same on a plane, straight from its direction of fall: one facet holds it, for every cell."""
    fall = np.array([-rises[0] / cell[0], -rises[1] / cell[1]])
    inner = np.ones((shape[0] - 2, shape[1] - 2))
    shares, given = [], False
    for facet in FACETS:
        side = np.array(facet[0])
        along, across = fall @ side, fall @ (np.array(facet[1]) - side)
        along_m, across_m = legs(facet, cell)
        turn, widest = np.arctan2(across, along), np.arctan2(across_m, along_m)
        holds = not given and along > 0.0 and 0.0 <= turn <= widest + 1e-12
        given |= holds
        share = 1.0 - turn / widest if holds else 0.0
        shares.append((inner * share, inner * (1.0 - share if holds else 0.0)))
    assert given
    return shares


def transfers(found, shares):
    """Entry (i, j) is the share of cell i's water that goes to j; on the rim all goes the single way."""
    rows, cols = np.indices(found.direction.shape)
    inner = np.s_[1:-1, 1:-1]
    index = rows * found.direction.shape[1] + cols
    single = flow.receivers(found.direction)
    single[index[inner].ravel()] = -1
    total = flow.matrix(single)
    for facet, pair in zip(FACETS, shares, strict=True):
        for step, share in zip(facet, pair, strict=True):
            target = index[inner] + step[1] * found.direction.shape[1] + step[0]
            total += sparse.csr_matrix((share.ravel(), (index[inner].ravel(), target.ravel())), shape=total.shape)
    return total


def assert_spread(terrain, found, spread, shares):
    np.testing.assert_array_equal(found.ground, terrain.elevation)
    share = transfers(found, shares)
    equations = (sparse.identity(spread.size) - share.T).tocsc()
    expected = spsolve(equations, np.ones(spread.size))
    # Each cell may shift one unit, and its water times a share's rounding, from one receiver to the other. Twice that, for the
    # arithmetic here.
    shifted = 2.0 * (share > 0.0).T @ (UNIT + expected * SHARE_UNIT) + 1e-12
    one_step = np.abs(equations @ spread.ravel() - 1.0)
    assert (one_step <= shifted).all(), f"{one_step.max()} cells apart in one step, {shifted.max()} allowed"
    # What is shifted runs on as other water does.
    tolerance = spsolve(equations, shifted)
    difference = np.abs(spread.ravel() - expected)
    assert (difference <= tolerance).all(), f"{difference.max()} cells apart, {tolerance.max()} allowed"
    return difference.max(), tolerance.max()


@pytest.mark.reference("numpy")
@pytest.mark.parametrize("terrain", terrains.random_terrains(), ids=lambda terrain: terrain.name)
def test_no_water_is_lost(terrain, tmp_path):
    found, spread = spread_over(terrain, tmp_path)
    assert spread.dtype == np.float64
    assert spread[found.direction == flow.ENDS_HERE].sum() == np.count_nonzero(found.valid)


@pytest.mark.reference("numpy")
def test_no_water_is_lost_in_the_demonstration(demonstration, tmp_path, measured):
    """With mapped channels, links and a kept pothole."""
    program.run("outlets", demonstration.file, "--out", tmp_path / "out", "--spread")
    found, spread = rasters.read(tmp_path / "out"), rasters.read_band(tmp_path / "out/area_draining_spread.tif")
    assert spread[found.direction == flow.ENDS_HERE].sum() == np.count_nonzero(found.valid)
    measured(f"{np.count_nonzero(found.valid)} cells in, as many out")


@pytest.mark.reference("numpy", "scipy")
@pytest.mark.parametrize("cell", [(2.0, 2.0), (2.0, 3.0)], ids=["square", "oblong"])
@pytest.mark.parametrize("rises", PLANES, ids=str)
def test_planes(rises, cell, tmp_path, measured):
    rows, cols = np.indices((30, 40))
    terrain = terrains.Terrain("plane", (128.0 + (rises[0] * cols + rises[1] * rows) / 64.0).astype(np.float32), cell)
    found, spread = spread_over(terrain, tmp_path)
    worst, allowed = assert_spread(terrain, found, spread, plane_shares(rises, terrain.elevation.shape, cell))
    measured(f"plane {rises} on cells of {cell} m: at most {worst:.1e} cells apart ({allowed:.1e} allowed)")


@pytest.mark.reference("numpy", "scipy")
@pytest.mark.parametrize("cell", [(2.0, 2.0), (3.0, 2.0)], ids=["square", "oblong"])
@pytest.mark.parametrize("seed", range(5))
def test_smooth_surfaces(seed, cell, tmp_path, measured):
    rng = np.random.default_rng([seed, 1997])
    rows, cols = np.indices((70, 90))
    hills = ndimage.gaussian_filter(rng.normal(size=rows.shape), 5.0)
    ground = 200.0 - 0.06 * rows - 0.09 * cols + 0.3 * hills / np.abs(hills).max()
    terrain = terrains.Terrain("smooth", ground.astype(np.float32), cell)
    found, spread = spread_over(terrain, tmp_path)
    worst, allowed = assert_spread(terrain, found, spread, facet_shares(terrain.elevation.astype(float), cell))
    measured(f"surface {seed} on cells of {cell} m: at most {worst:.1e} cells apart ({allowed:.1e} allowed)")
