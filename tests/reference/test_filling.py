"""The conditioned surface of bare ground is the lowest surface from which every cell can drain to the edge or to nodata."""

import numpy as np
import pytest
from skimage.morphology import reconstruction

import flow

pytestmark = pytest.mark.reference("scikit-image", "numpy")


def filled_by_reconstruction(elevation):
    """Morphological reconstruction by erosion (Vincent 1993) from the cells where water can leave, at their own level."""
    valid = ~np.isnan(elevation)
    wall = elevation[valid].max() + 1.0
    ground = np.where(valid, elevation, wall)
    seed = np.where(flow.beside_nodata_or_edge(valid), ground, wall)
    filled = reconstruction(seed, ground, method="erosion", footprint=np.ones((3, 3)))
    return np.where(valid, filled, np.nan).astype(np.float32)


def test_filled_ground_equals_the_reconstruction(conditioned, measured):
    terrain, rasters = conditioned
    expected = filled_by_reconstruction(terrain.elevation)
    np.testing.assert_array_equal(rasters.ground, expected)
    if terrain.name == "jacksboro":
        raised = np.count_nonzero(expected > terrain.elevation)
        measured(f"Jacksboro (real elevations, frame made up): {raised} of {expected.size} cells raised, all equal")


def test_the_measure_itself_on_a_grid_filled_by_hand():
    """Nested depressions that spill together at level 7: 13 cells raised by 24 in all, the deepest by 5."""
    grid = np.array(
        [
            [9, 9, 9, 9, 9, 9, 9],
            [9, 5, 6, 8, 7, 6, 9],
            [9, 4, 3, 8, 6, 2, 9],
            [9, 5, 6, 7, 6, 5, 9],
            [9, 8, 8, 8, 8, 7, 9],
            [9, 7, 7, 7, 6, 6, 6.5],
            [9, 9, 9, 9, 9, 9, 9],
        ],
        dtype=np.float32,
    )
    filled = filled_by_reconstruction(grid)
    raised = filled - grid
    assert (np.count_nonzero(raised), raised.sum(), raised.max()) == (13, 24.0, 5.0)
