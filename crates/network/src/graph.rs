//! The outlet network: leaving points, reaches, structures and ends as a directed graph.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, ParcelIx, ReachIx, ShareIx, StructureIx, WaterwayIx};
use petgraph::Direction;
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;
use typed_index_collections::{TiSlice, TiVec};

use crate::joined::known_ahead;
use crate::{End, Feature, Reaches, Setting, Structure};

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Node {
    /// Where a share of a parcel leaves.
    Leaving { parcel: ParcelIx, share: ShareIx },
    /// The upper end of a reach, either end of a structure, or where water goes on below a reach.
    Point(Cell),
    /// Where water ends.
    End(Cell, End),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Edge {
    /// Over land.
    Overland,
    Reach(ReachIx),
    Structure(StructureIx),
    /// From a leaving point into a reach part-way, to its lower end.
    Joins(ReachIx),
}

/// Every node has at most one edge out: water goes one way.
#[derive(Clone, Debug)]
pub struct OutletNetwork {
    pub graph: DiGraph<Node, Edge>,
    /// For each reach its upper and lower node.
    pub reach_nodes: TiVec<ReachIx, (NodeIndex, NodeIndex)>,
    points: BTreeMap<Node, NodeIndex>,
    /// For each structure the waterways in whose channel it takes in the water.
    taken_from: TiVec<StructureIx, Vec<WaterwayIx>>,
    /// For each structure whether its water goes on in another without coming to the surface.
    joins: TiVec<StructureIx, bool>,
}

impl OutletNetwork {
    /// Builds the graph. `leaving` lists for each parcel the cells where its shares leave.
    ///
    /// *Complexity*: O(length of all stretches between nodes, each once however many shares' water takes it).
    pub fn build(setting: &Setting, reaches: &Reaches, leaving: &TiSlice<ParcelIx, TiVec<ShareIx, Cell>>) -> Self {
        let taken_from = |structure: &Structure| setting.waterways_at(structure.link.inlet).collect();
        let taken_from = setting.structures.iter().map(taken_from).collect();
        let joins = setting.structures.iter().map(|structure| structure.joins.is_some()).collect();
        let mut network =
            Self { graph: DiGraph::new(), reach_nodes: TiVec::new(), points: BTreeMap::new(), taken_from, joins };
        let stops = stops(setting, reaches);
        for (position, reach) in reaches.list.iter_enumerated() {
            let last = *reach.cells.last().expect("a reach has cells");
            let upper = network.node(Node::Point(reach.cells[0]));
            let lower = match setting.flow().receiver(last) {
                Some(next) => network.node(Node::Point(next)),
                None => network.end(setting, last),
            };
            network.graph.add_edge(upper, lower, Edge::Reach(position));
            network.reach_nodes.push((upper, lower));
        }
        for (position, structure) in setting.structures.iter_enumerated() {
            let inlet = network.node(Node::Point(structure.link.inlet));
            let joined = structure.joins.map(|junction| setting.structures[junction.structure].link.inlet);
            let lower = joined.unwrap_or(structure.link.outlet);
            let lower = network.node(Node::Point(lower));
            network.graph.add_edge(inlet, lower, Edge::Structure(position));
        }
        let points: Vec<Node> = network.points.keys().copied().collect();
        for node in points {
            if let Node::Point(cell) = node {
                network.lead_on(setting, reaches, &stops, node, cell);
            }
        }
        network.lead_shares(setting, reaches, &stops, leaving);
        network
    }

    pub fn leaving(&self, parcel: ParcelIx, share: ShareIx) -> Option<NodeIndex> {
        self.points.get(&Node::Leaving { parcel, share }).copied()
    }

    pub fn point(&self, cell: Cell) -> Option<NodeIndex> {
        self.points.get(&Node::Point(cell)).copied()
    }

    /// The edges from a node to where its water ends, in order.
    pub fn downstream(&self, from: NodeIndex) -> Vec<Edge> {
        let mut edges = Vec::new();
        let mut node = from;
        while let Some(edge) = self.graph.edges_directed(node, Direction::Outgoing).next() {
            edges.push(*edge.weight());
            node = edge.target();
        }
        edges
    }

    /// Where the water of a node ends.
    pub fn end_of(&self, from: NodeIndex) -> Option<End> {
        let mut node = from;
        while let Some(next) = self.graph.neighbors(node).next() {
            node = next;
        }
        match self.graph[node] {
            Node::End(_, end) => Some(end),
            _ => None,
        }
    }

    /// The reach that water reaches next below a reach, whatever lies between.
    pub fn next_reach(&self, reach: ReachIx) -> Option<ReachIx> {
        self.downstream(self.reach_nodes[reach].1).into_iter().find_map(|edge| match edge {
            Edge::Reach(next) | Edge::Joins(next) => Some(next),
            Edge::Overland | Edge::Structure(_) => None,
        })
    }

    /// The channels and structures that carry water below a node, in order: for each every feature that runs in it, the
    /// one whose channel it is first. A channel comes before the structure that takes in its water, also where no other
    /// cell of it is met; water that comes to a structure by another meets no such channel.
    pub fn channels_below(&self, from: NodeIndex, reaches: &Reaches) -> Vec<Vec<Feature>> {
        let waterways = |all: &[WaterwayIx]| all.iter().copied().map(Feature::Waterway).collect::<Vec<_>>();
        let mut channels = Vec::new();
        let mut is_inside = false;
        for edge in self.downstream(from) {
            match edge {
                Edge::Overland => {}
                Edge::Reach(reach) | Edge::Joins(reach) => {
                    channels.push(reaches.list[reach].waterways().map(Feature::Waterway).collect());
                }
                Edge::Structure(structure) => {
                    if !is_inside {
                        channels.push(waterways(&self.taken_from[structure]));
                    }
                    channels.push(vec![Feature::Structure(structure)]);
                }
            }
            is_inside = matches!(edge, Edge::Structure(structure) if self.joins[structure]);
        }
        channels.retain(|features| !features.is_empty());
        channels
    }

    fn node(&mut self, node: Node) -> NodeIndex {
        *self.points.entry(node).or_insert_with(|| self.graph.add_node(node))
    }

    fn end(&mut self, setting: &Setting, cell: Cell) -> NodeIndex {
        let end = setting.ends().get(&cell).copied().expect("a path without receiver has an end");
        self.node(Node::End(cell, end))
    }

    /// Gives a point without an edge out the edge to the next node: along the reach it lies in, or over land.
    fn lead_on(&mut self, setting: &Setting, reaches: &Reaches, stops: &BTreeSet<Cell>, node: Node, from: Cell) {
        let index = self.node(node);
        if self.graph.edges(index).next().is_some() {
            return;
        }
        let mut path = setting.flow().path(from);
        let stop = path.find(|&cell| {
            let is_stop = is_stop(reaches, stops, cell) && (reaches.of(cell).is_some() || cell != from);
            is_stop || setting.flow().receiver(cell).is_none()
        });
        let (target, edge) = self.stop(setting, reaches, stops, stop.expect("a path has a last cell"));
        self.graph.add_edge(index, target, edge);
    }

    /// Gives the leaving points of all shares their edges out.
    fn lead_shares(
        &mut self,
        setting: &Setting,
        reaches: &Reaches,
        stops: &BTreeSet<Cell>,
        leaving: &TiSlice<ParcelIx, TiVec<ShareIx, Cell>>,
    ) {
        let flow = setting.flow();
        let next = |cell: Cell| if is_stop(reaches, stops, cell) { None } else { flow.receiver(cell) };
        let all: Vec<Cell> = leaving.iter().flatten().copied().collect();
        let edges = known_ahead(setting.frame().len(), &all, next, |cell, beyond| match beyond {
            Some((_, edge)) => edge,
            None => self.stop(setting, reaches, stops, cell),
        });
        let shares = |(parcel, cells): (ParcelIx, &TiVec<ShareIx, Cell>)| {
            cells.keys().map(move |share| Node::Leaving { parcel, share })
        };
        for (node, (target, edge)) in leaving.iter_enumerated().flat_map(shares).zip(edges) {
            let index = self.node(node);
            self.graph.add_edge(index, target, edge);
        }
    }

    /// The next node for water that comes to a cell where it stops, and the edge that leads there.
    fn stop(&mut self, setting: &Setting, reaches: &Reaches, stops: &BTreeSet<Cell>, cell: Cell) -> (NodeIndex, Edge) {
        if let Some(reach) = reaches.of(cell) {
            return (self.reach_nodes[reach].1, Edge::Joins(reach));
        }
        let at = if stops.contains(&cell) { self.node(Node::Point(cell)) } else { self.end(setting, cell) };
        (at, Edge::Overland)
    }
}

/// Whether a path to the next node stops at a cell though water goes on.
fn is_stop(reaches: &Reaches, stops: &BTreeSet<Cell>, cell: Cell) -> bool {
    reaches.of(cell).is_some() || stops.contains(&cell)
}

/// Cells outside reaches that every path must stop at: the inlets of structures.
fn stops(setting: &Setting, reaches: &Reaches) -> BTreeSet<Cell> {
    setting.structures.iter().map(|structure| structure.link.inlet).filter(|&cell| reaches.of(cell).is_none()).collect()
}
