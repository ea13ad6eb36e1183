"""Cuts on random terrains: what the search for the cheapest way cost, against Dijkstra's algorithm on the same grid graph."""

import networkx as nx
import numpy as np
import pytest
import shapely

import cases
import flow
import projection
import rasters
import terrains

pytestmark = pytest.mark.reference("networkx")

# Costs are written to the millimetre.
AS_PRINTED_M = 0.0005 + 1e-9

CASE = """name = "Random ground, one invented parcel"
[terrain]
elevation = ["dem.tif"]
vertical_unit = "m"
longest_cut_m = 1e6
deepest_cut_m = 1e6
[parcels]
source = "parcels.geojson"
id = "roll"
"""


def ground():
    """Everything wide enough to hold a depression."""
    return [terrain for terrain in terrains.random_terrains() if min(terrain.elevation.shape) > 3]


def write_case(terrain, folder):
    rasters.write_dem(folder / "dem.tif", terrain)
    rows, cols = terrain.elevation.shape
    width, height = terrain.cell
    bounds = (rasters.WEST, rasters.NORTH - rows * height, rasters.WEST + cols * width, rasters.NORTH)
    cases.write_one_parcel(folder / "parcels.geojson", bounds, rasters.CRS)
    (folder / "case.toml").write_text(CASE)
    return folder / "case.toml"


def grid_graph(elevation):
    """The cells with elevation, each joined to its eight neighbours."""
    graph = nx.Graph()
    rows, cols = elevation.shape
    for row, col in np.ndindex(rows, cols):
        for down, right in ((0, 1), (1, -1), (1, 0), (1, 1)):
            there = (row + down, col + right)
            if there[0] < rows and 0 <= there[1] < cols and not np.isnan([elevation[row, col], elevation[there]]).any():
                graph.add_edge((row, col), there)
    return graph


def cheapest(graph, elevation, is_rim, pit, most):
    """The least cost from the pit to a cell below it or on the rim; entering a cell costs its height above the pit."""
    cost = nx.single_source_dijkstra_path_length(
        graph, pit, cutoff=most, weight=lambda _, there, __: max(0.0, elevation[there] - elevation[pit])
    )
    lower = (cost[cell] for cell in cost if cell != pit and (elevation[cell] < elevation[pit] or is_rim[cell]))
    return min(lower, default=np.inf)


def cells_of(feature, terrain):
    line = projection.from_lonlat(shapely.geometry.shape(feature["geometry"]), rasters.CRS)
    x, y = shapely.get_coordinates(line).T
    rows = np.floor((rasters.NORTH - y) / terrain.cell[1]).astype(int)
    cols = np.floor((x - rasters.WEST) / terrain.cell[0]).astype(int)
    return list(zip(rows.tolist(), cols.tolist(), strict=True))


@pytest.mark.parametrize("terrain", ground(), ids=lambda terrain: terrain.name)
def test_search_costs(terrain, tmp_path, measured):
    case = cases.outlets(write_case(terrain, tmp_path), tmp_path / "out")
    elevation = terrain.elevation.astype(float)
    is_rim = flow.beside_nodata_or_edge(~np.isnan(elevation))
    graph = grid_graph(elevation)
    cuts = [change for change in case.features("terrain_changes") if change["properties"]["kind"] == "cut"]
    assert cuts, "a terrain without a cut proves nothing"
    worst = 0.0
    for change in cuts:
        path, printed = cells_of(change, terrain), change["properties"]["rise_sum_m"]
        pit, end = path[0], path[-1]
        along_path = sum(max(0.0, elevation[cell] - elevation[pit]) for cell in path[1:])
        least = cheapest(graph, elevation, is_rim, pit, printed + 0.01)
        assert elevation[end] < elevation[pit] or is_rim[end]
        assert all(graph.has_edge(*step) for step in zip(path, path[1:]))
        worst = max(worst, abs(along_path - printed), abs(least - printed))
    assert worst <= AS_PRINTED_M
    measured(f"{terrain.name}: {len(cuts)} cuts, at most {worst * 1000:.2f} mm from the least cost")
