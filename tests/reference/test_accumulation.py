"""Flow accumulation: with A the adjacency of the exported directions and links, the area draining a solves (I - Aᵀ) a = 1."""

import numpy as np
import pytest
from scipy import sparse
from scipy.sparse.linalg import spsolve

import flow

pytestmark = pytest.mark.reference("scipy")


def accumulation(receiver):
    """Exact: every entry is 0 or ±1 and every partial sum is a whole number far below 2⁵³."""
    equations = sparse.identity(receiver.size, format="csc") - flow.matrix(receiver).T.tocsc()
    return spsolve(equations, np.ones(receiver.size))


def assert_accumulation(rasters, links=()):
    receiver = flow.receivers(rasters.direction, links)
    valid = rasters.valid.ravel()
    expected = np.where(valid, accumulation(receiver), 0.0)
    np.testing.assert_array_equal(rasters.area_draining.ravel(), expected)
    # Cells in = cells out.
    assert rasters.area_draining.ravel()[valid & (receiver < 0)].sum(dtype=np.uint64) == np.count_nonzero(valid)


def test_area_draining_solves_the_equations(conditioned):
    _, rasters = conditioned
    assert_accumulation(rasters)


def test_area_draining_through_links_solves_the_equations(demonstration, measured):
    links = demonstration.features("links")
    assert_accumulation(demonstration.rasters, links)
    carried = np.count_nonzero(demonstration.rasters.direction == flow.CARRIED)
    measured(f"demonstration: {np.count_nonzero(demonstration.rasters.valid)} cells, {carried} carried by {len(links)} links")
