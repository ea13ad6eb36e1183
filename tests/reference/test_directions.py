"""Single-direction flow: the steepest way down (D8, O'Callaghan & Mark 1984), and an end for every path."""

import numpy as np
import pytest
from scipy.sparse import csgraph

import flow


def neighbour(values, step, fill):
    """For each cell the value of its neighbour at a step; `fill` beyond the edge."""
    down, right = step
    rows, cols = values.shape
    return np.pad(values, 1, constant_values=fill)[1 + down : 1 + down + rows, 1 + right : 1 + right + cols]


def steepest_direction(ground, cell):
    """The code of the largest drop over distance, the lowest code among equals; 0 where no neighbour is lower."""
    best, code_of_best = np.zeros(ground.shape), np.zeros(ground.shape, dtype=np.uint8)
    for code, (down, right) in flow.STEPS.items():
        distance = np.hypot(right * cell[0], down * cell[1])
        drop = ground.astype(np.float64) - neighbour(ground.astype(np.float64), (down, right), np.nan)
        steeper = drop / distance > best
        best[steeper], code_of_best[steeper] = (drop / distance)[steeper], code
    return code_of_best


@pytest.mark.reference("numpy")
def test_a_cell_with_a_lower_neighbour_drains_to_the_steepest(conditioned):
    _, rasters = conditioned
    expected = steepest_direction(rasters.ground, rasters.cell)
    downhill = expected > 0
    np.testing.assert_array_equal(rasters.direction[downhill], expected[downhill])


@pytest.mark.reference("numpy")
def test_no_direction_points_uphill_or_into_nodata(conditioned):
    _, rasters = conditioned
    np.testing.assert_array_equal(rasters.direction == flow.NODATA, ~rasters.valid)
    receiver = flow.receivers(rasters.direction)
    giving = np.flatnonzero(receiver >= 0)
    ground = rasters.ground.ravel()
    # False for NaN, so a receiver without data fails too.
    assert (ground[receiver[giving]] <= ground[giving]).all()


@pytest.mark.reference("scipy")
def test_every_path_ends_at_the_edge_or_beside_nodata(conditioned):
    _, rasters = conditioned
    ends = rasters.direction == flow.ENDS_HERE
    assert not (ends & ~flow.beside_nodata_or_edge(rasters.valid)).any()
    assert_no_cycles(flow.receivers(rasters.direction))


def assert_no_cycles(receiver):
    """In a graph without cycles each cell is a strongly connected component of its own."""
    components, _ = csgraph.connected_components(flow.matrix(receiver), directed=True, connection="strong")
    assert components == receiver.size
    assert not (receiver == np.arange(receiver.size)).any()


@pytest.mark.reference("scipy")
def test_no_cycles_through_the_links_of_the_demonstration(demonstration, measured):
    links = demonstration.features("links")
    assert links, "the demonstration case has culverts and pipes"
    assert_no_cycles(flow.receivers(demonstration.rasters.direction, links))
    measured(f"demonstration: {demonstration.rasters.direction.size} cells, {len(links)} links, no cycle")
