"""The exported outlet network as a networkx graph: one way down from every reach, and paths that follow it to its end.

Nodes are joined by reaches. Where a reach ends and no other begins, and where a share leaves its parcel, the exported directions
and links are followed, cell by cell, to the first cell on the line of a reach.
"""

import networkx as nx
import numpy as np
import pytest
import shapely
from shapely.geometry import shape

import flow
import projection

pytestmark = pytest.mark.reference("networkx")


class Ways:
    """Where water goes between reaches."""

    def __init__(self, case):
        self.crs, _ = case.parcel_polygons()
        self.inverse = ~case.rasters.transform
        self.cols = case.rasters.direction.shape[1]
        self.receiver = flow.receivers(case.rasters.direction, case.features("links"))
        self.reach_at = {}
        for feature in case.features("reaches"):
            for cell in self.cells(feature):
                assert cell not in self.reach_at, f"two reaches in one cell, {feature['properties']['reach_id']} is one"
                self.reach_at[cell] = feature["properties"]

    def cell(self, position):
        """The cell at longitude and latitude."""
        ((x, y),) = shapely.get_coordinates(projection.from_lonlat(shapely.Point(position), self.crs))
        col, row = np.floor(self.inverse * (x, y)).astype(int)
        return row * self.cols + col

    def cell_of_node(self, node):
        """Nodes are named by column and row."""
        col, row = node.split(".")[:2]
        return int(row) * self.cols + int(col)

    def cells(self, reach):
        """Cells on the line of a reach, from centre to centre; the last point is the cell it gives its water to."""
        if reach["geometry"] is None:
            return [self.cell_of_node(reach["properties"]["upper_node"])]
        return [self.cell(position) for position in shape(reach["geometry"]).coords[:-1]]

    def first_reach(self, cell):
        """The reach that water from a cell comes to first, if any."""
        while cell >= 0:
            if cell in self.reach_at:
                return self.reach_at[cell]
            cell = self.receiver[cell]
        return None


@pytest.fixture(scope="module")
def reaches(demonstration):
    """Nodes joined by reaches, in the direction of flow."""
    graph = nx.DiGraph()
    for feature in demonstration.features("reaches"):
        reach = feature["properties"]
        ends = reach["upper_node"], reach["lower_node"]
        assert not graph.has_edge(*ends), f"two reaches from node {ends[0]} to node {ends[1]}"
        graph.add_edge(*ends, **reach)
    return graph


@pytest.fixture(scope="module")
def network(demonstration, reaches):
    """The same, with the ways between reaches and, as nodes (parcel id, share), where shares leave their parcels."""
    ways = Ways(demonstration)
    graph = reaches.copy()

    def lead_on(node, cell):
        if (reach := ways.first_reach(cell)) is not None:
            graph.add_edge(node, reach["lower_node"], reach_id=reach["reach_id"])

    for node in reaches:
        if reaches.out_degree(node) == 0 and not node.endswith(".end"):
            lead_on(node, ways.cell_of_node(node))
    for feature in demonstration.features("parcels"):
        parcel = feature["properties"]
        for share in parcel["shares"]:
            if share["leaving_point"] is not None:
                node = parcel["parcel_id"], share["share"]
                graph.add_node(node)
                lead_on(node, ways.cell(share["leaving_point"]))
    return graph


def reaches_to_the_end(graph, node):
    """Reach ids along the way from a node to where water leaves the network."""
    (end,) = [other for other in {node, *nx.descendants(graph, node)} if graph.out_degree(other) == 0]
    way = nx.shortest_path(graph, node, end)
    return [graph.edges[ends]["reach_id"] for ends in nx.utils.pairwise(way)]


def test_one_way_down_and_no_cycle(network, reaches, measured):
    assert nx.is_directed_acyclic_graph(network)
    assert all(degree <= 1 for _, degree in network.out_degree())
    measured(f"{reaches.number_of_edges()} reaches, {reaches.number_of_nodes()} nodes, acyclic")


def test_to_reach_is_the_reach_that_the_lower_node_leads_to(network, reaches):
    for _, lower, reach in reaches.edges(data=True):
        following = [after["reach_id"] for _, _, after in network.out_edges(lower, data=True)]
        assert [reach["to_reach"]] == (following or [None]), reach["reach_id"]


def test_hectares_never_shrink_downstream(reaches):
    for node in reaches:
        arriving = [reach for _, _, reach in reaches.in_edges(node, data=True)]
        for _, _, reach in reaches.out_edges(node, data=True):
            for name in ("surface_ha", "piped_ha"):
                total = sum(above[name] for above in arriving)
                assert reach[name] >= total - 1e-6, (reach["reach_id"], name, reach[name], total)


def test_every_path_follows_the_network_to_its_end(demonstration, network, measured):
    paths = [feature["properties"] for feature in demonstration.features("paths")]
    paths = [path for path in paths if path["water"] == "surface"]
    for path in paths:
        expected = reaches_to_the_end(network, (path["parcel_id"], path["share"]))
        assert path["reaches"] == expected, (path["parcel_id"], path["share"])
    chains = [path for path in paths if path["reaches"]]
    assert chains
    measured(f"{len(chains)} paths of {len(paths)} enter the network; all follow it from their leaving point to its end")


def test_the_outlet_of_a_path_lies_on_it(demonstration):
    waterways = {
        reach["properties"]["reach_id"]: (reach["properties"]["waterway_id"], reach["properties"]["class"])
        for reach in demonstration.features("reaches")
    }
    for feature in demonstration.features("paths"):
        path = feature["properties"]
        if path["outlet_id"] is not None:
            passed = {waterways[reach] for reach in path["reaches"]}
            assert (path["outlet_id"], path["outlet_class"]) in passed, (path["parcel_id"], path["share"])
