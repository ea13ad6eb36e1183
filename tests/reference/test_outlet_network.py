"""The exported outlet network as a networkx graph: one way down from every reach, and paths that follow it to its end."""

import networkx as nx
import pytest

pytestmark = pytest.mark.reference("networkx")


@pytest.fixture(scope="module")
def network(demonstration):
    """Nodes joined by reaches, in the direction of flow."""
    graph = nx.DiGraph()
    for feature in demonstration.features("reaches"):
        reach = feature["properties"]
        ends = reach["from_node"], reach["to_node"]
        assert not graph.has_edge(*ends), f"two reaches from node {ends[0]} to node {ends[1]}"
        graph.add_edge(*ends, **reach)
    return graph


def reaches_to_the_end(graph, node):
    """Reach ids along the way from a node to where water leaves the network."""
    (end,) = [other for other in {node, *nx.descendants(graph, node)} if graph.out_degree(other) == 0]
    way = nx.shortest_path(graph, node, end)
    return [graph.edges[ends]["reach_id"] for ends in nx.utils.pairwise(way)]


def test_one_way_down_and_no_cycle(network, measured):
    assert nx.is_directed_acyclic_graph(network)
    assert all(degree <= 1 for _, degree in network.out_degree())
    measured(f"{network.number_of_edges()} reaches, {network.number_of_nodes()} nodes, acyclic")


def test_to_reach_is_the_reach_that_leaves_the_lower_node(network):
    for _, lower, reach in network.edges(data=True):
        following = [after["reach_id"] for _, _, after in network.out_edges(lower, data=True)]
        assert [reach["to_reach"]] == (following or [None]), reach["reach_id"]


def test_hectares_never_shrink_downstream(network):
    for node in network:
        arriving = [reach for _, _, reach in network.in_edges(node, data=True)]
        for _, _, reach in network.out_edges(node, data=True):
            for name in ("surface_ha", "piped_ha"):
                total = sum(above[name] for above in arriving)
                assert reach[name] >= total - 1e-6, (reach["reach_id"], name, reach[name], total)


def test_every_path_follows_the_network_to_its_end(demonstration, network, measured):
    upper_node = {reach["reach_id"]: node for node, _, reach in network.edges(data=True)}
    chains = 0
    for feature in demonstration.features("paths"):
        path = feature["properties"]
        if path["reaches"]:
            chains += 1
            expected = reaches_to_the_end(network, upper_node[path["reaches"][0]])
            assert path["reaches"] == expected, (path["parcel_id"], path["share"])
    assert chains > 0
    measured(f"{chains} paths of {len(demonstration.features('paths'))} enter the network; all follow it to its end")


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
