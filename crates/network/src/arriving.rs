//! Whose water arrives at a place, where it comes in, and over whose land it comes.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use fallwright_units::{Cell, StructureIx};

use crate::place::{carrier_at, inside};
use crate::{Carrier, Party, Setting};

/// A stretch of the way that water takes to a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Via {
    Land(Party),
    Structure(StructureIx),
}

/// Water of one party that comes to a place by one way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrival {
    pub giver: Party,
    /// What lies between the giver's land and the place, in order downstream, each once. Empty for a neighbour whose water
    /// comes straight over the lot line.
    pub through: Vec<Via>,
    pub cells: u64,
}

/// Where water comes in, from one neighbour by one carrier.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inflow {
    pub from: Party,
    pub carrier: Carrier,
    /// The cell of the place where most of it comes in.
    pub at: Cell,
    pub cells: u64,
}

/// All water that reaches a place from outside it, counted where it first does so.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Arriving {
    /// By giver, then most cells first.
    pub arrivals: Vec<Arrival>,
    /// Most cells first.
    pub inflows: Vec<Inflow>,
}

/// Follows all water up the slope from a place.
///
/// *Complexity*: O(n) to look for the place among n cells, then O(cells that drain to it).
pub fn arriving(setting: &Setting, is_place: impl Fn(Cell) -> bool) -> Arriving {
    let mut ways = RouteTree::default();
    let mut cells: HashMap<(Party, Option<usize>), u64> = HashMap::new();
    let mut inflows: BTreeMap<(Party, Carrier), (u64, u64, Cell)> = BTreeMap::new();
    for at in setting.parties.cells().filter(|&cell| is_place(cell)) {
        for entry in donors(setting, at).filter(|&donor| !is_place(donor)) {
            let mut entering = 0;
            let mut open = vec![(entry, ways.above(setting, entry, None))];
            while let Some((cell, way)) = open.pop() {
                entering += 1;
                *cells.entry((setting.parties.of(cell), way)).or_default() += 1;
                for donor in donors(setting, cell).filter(|&donor| !is_place(donor)) {
                    open.push((donor, ways.above(setting, donor, Some((cell, way)))));
                }
            }
            let key = (setting.parties.of(entry), carrier_at(setting, entry));
            let inflow = inflows.entry(key).or_insert((0, 0, at));
            inflow.0 += entering;
            if entering > inflow.1 {
                (inflow.1, inflow.2) = (entering, at);
            }
        }
    }
    let mut inflows: Vec<Inflow> =
        inflows.into_iter().map(|((from, carrier), (cells, _, at))| Inflow { from, carrier, at, cells }).collect();
    inflows.sort_by_key(|inflow| (std::cmp::Reverse(inflow.cells), inflow.from, inflow.carrier));
    Arriving { arrivals: ways.arrivals(&cells), inflows }
}

/// The lands above a structure between its ends, and above those that it joins down to where the water comes to the surface or
/// meets a lawful outlet.
pub fn lands_above(setting: &Setting, structure: StructureIx) -> BTreeSet<Party> {
    inside(setting, structure).into_iter().map(|place| setting.parties.of(place.cell)).collect()
}

fn donors(setting: &Setting, cell: Cell) -> impl Iterator<Item = Cell> {
    let flow = setting.flow();
    let beside = setting.ground.frame.neighbours(cell).map(|(_, next)| next);
    let beside = beside.filter(move |&next| flow.receiver(next) == Some(cell) && !flow.links.is_inlet(next));
    beside.chain(flow.links.inlets_of(cell).iter().copied())
}

/// The ways to a place as a tree that grows up the slope: each node is one more stretch above another node.
#[derive(Default)]
struct RouteTree {
    nodes: Vec<(Via, Option<usize>)>,
    known: HashMap<(Via, Option<usize>), usize>,
}

impl RouteTree {
    /// The way from a cell, given the cell that takes its water and the way from there; `None` where that is the place.
    fn above(&mut self, setting: &Setting, cell: Cell, next: Option<(Cell, Option<usize>)>) -> Option<usize> {
        let mut way = next.and_then(|(_, way)| way);
        if let Some(land) = next.map(|(next, _)| setting.parties.of(next))
            && land != setting.parties.of(cell)
        {
            way = Some(self.node(Via::Land(land), way));
        }
        if let Some(structure) = setting.structure_at(cell) {
            let joined: Vec<StructureIx> = setting.joined(structure).collect();
            for &structure in joined.iter().rev() {
                way = Some(self.node(Via::Structure(structure), way));
            }
        }
        way
    }

    fn node(&mut self, stretch: Via, below: Option<usize>) -> usize {
        *self.known.entry((stretch, below)).or_insert_with(|| {
            self.nodes.push((stretch, below));
            self.nodes.len() - 1
        })
    }

    /// Ways that differ only in how often they come back to a land are one.
    fn arrivals(&self, cells: &HashMap<(Party, Option<usize>), u64>) -> Vec<Arrival> {
        let mut together: BTreeMap<(Party, Vec<Via>), u64> = BTreeMap::new();
        for (&(giver, way), &cells) in cells {
            *together.entry((giver, self.stretches(giver, way))).or_default() += cells;
        }
        let mut arrivals: Vec<Arrival> =
            together.into_iter().map(|((giver, through), cells)| Arrival { giver, through, cells }).collect();
        arrivals.sort_by(|a, b| (a.giver, b.cells, &a.through).cmp(&(b.giver, a.cells, &b.through)));
        arrivals
    }

    fn stretches(&self, giver: Party, way: Option<usize>) -> Vec<Via> {
        let mut stretches = Vec::new();
        let mut next = way;
        while let Some(node) = next {
            let (stretch, below) = self.nodes[node];
            if stretch != Via::Land(giver) && !stretches.contains(&stretch) {
                stretches.push(stretch);
            }
            next = below;
        }
        stretches
    }
}
