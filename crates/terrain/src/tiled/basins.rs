//! The first visit of filling: the basins of one tile, and what the rest of the raster must know of them.
//!
//! Every cell points to the lowest of itself and its neighbours in the tile (ties go to the lower index), so that each
//! basin is the cells whose pointers lead to one low cell, over ground that never rises. Water of two basins meets at a
//! cell from which the ground falls into both. A spanning tree of these passes gives for each basin at what level it first
//! spills to a *node*: the outside, a basin that touches the tile's edge, or a basin that a structure leads to or from.
//! Only the nodes and the passes between them matter to other tiles.
//!
//! *References*: G. Cordonnier, B. Bovy & J. Braun (2019), A versatile, linear complexity algorithm for flow routing in
//! topographies with depressions, Earth Surface Dynamics 7, 549–562; R. Barnes (2016), Parallel priority-flood depression
//! filling for trillion cell digital elevation models on desktops or clusters, Computers & Geosciences 96, 56–68;
//! J. B. Kruskal (1956), On the shortest spanning subtree of a graph and the traveling salesman problem, Proceedings of the
//! American Mathematical Society 7, 48–50.

use multiversion::multiversion;
use serde::{Deserialize, Serialize};

use super::order::FlowOrder;
use super::passes::{Pass, rank};
use super::patch::Patch;
use super::routes::{BEYOND, receiver_offsets};
use super::sets::root;
use super::tiling::Ring;
use crate::direction;

/// The node that stands for everything beyond the data: water that reaches it has left.
pub const OUTSIDE: u32 = 0;

/// What the rest of the raster must know of one tile's basins.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileBasins {
    /// Number of nodes, [`OUTSIDE`] included.
    pub nodes: u32,
    /// The first node that is the inlet of a structure; those from here on all are.
    pub first_inlet: u32,
    /// Levels at which water passes between nodes, both ways.
    pub passes: Vec<Pass>,
    /// Levels at which water falls from the node `b` into the inlet `a` of a structure, never back.
    pub intakes: Vec<Pass>,
    /// Elevation and node of each cell along the edge; `NaN` without data.
    pub ring: Vec<(f32, u32)>,
    /// Elevation and node of each cell where a structure begins or ends, in the order of the cells.
    pub ends: Vec<(f32, u32)>,
}

/// The few cells of a tile that are more than ground, by their position in its patch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Marked {
    /// Where a structure takes in all water, in ascending order.
    pub(crate) inlets: Vec<usize>,
    /// Both ends of structures, in ascending order.
    pub(crate) ends: Vec<usize>,
    /// Where water of a kept depression ends.
    pub(crate) sinks: Vec<usize>,
    /// Whether the tile lies at the raster's north, south, west and east edge.
    pub(crate) at_edge: [bool; 4],
}

/// Buffers of the first visit.
#[derive(Debug, Default)]
pub(crate) struct BasinBuffers {
    pointer: Patch<u8>,
    label: Patch<u32>,
    lower: Patch<u8>,
    order: FlowOrder,
    saddles: Vec<u32>,
    passes: Vec<Pass>,
}

/// No basin: missing data, the margin, an inlet.
const NO_BASIN: u32 = OUTSIDE;

/// Fills one tile as far as its own ground decides, and sets each cell's node.
///
/// On return every cell of `ground` is no lower than the level at which its water first reaches its node; the filled
/// surface is that, or the node's own level where that is higher.
///
/// *Assumptions*: `NaN` is missing data and fills the margin of `ground`; no infinite elevations, no negative zero.
///
/// *Complexity*: O(n + p log p) for n cells and p passes.
pub(crate) fn solve(
    ground: &mut Patch<f32>,
    node: &mut Patch<u32>,
    buffers: &mut BasinBuffers,
    marked: &Marked,
) -> TileBasins {
    let inlets: Vec<f32> = marked.inlets.iter().map(|&inlet| ground.values[inlet]).collect();
    // Neither pointed to nor passed over: to the flood an inlet is reached from its outlet alone.
    let hide = |ground: &mut Patch<f32>| marked.inlets.iter().for_each(|&inlet| ground.values[inlet] = f32::NAN);
    let outside = outside_passes(ground, marked);
    hide(ground);
    point(ground, &mut buffers.pointer, &mut buffers.lower);
    let basins = label(&buffers.pointer, &mut buffers.label, &mut buffers.order);
    let label = &buffers.label;
    let passes = &mut buffers.passes;
    passes.clear();
    collect(ground, label, &buffers.lower, &mut buffers.saddles, passes);
    for (cell, level) in outside {
        if label.values[cell] != NO_BASIN {
            passes.push(Pass { level, a: OUTSIDE, b: label.values[cell] });
        }
    }
    for (&inlet, &level) in marked.inlets.iter().zip(&inlets) {
        ground.values[inlet] = level;
    }
    let mut nodes = Nodes::new(basins);
    nodes.name(ground, label, marked);
    let first_inlet = nodes.count;
    let inlet_node = |cell: usize| marked.inlets.binary_search(&cell).ok().map(|place| first_inlet + place as u32);
    let mut tile = TileBasins { nodes: first_inlet + inlets.len() as u32, first_inlet, ..TileBasins::default() };
    tile.intakes = intakes(ground, label, &nodes, marked, first_inlet);
    tile.passes = nodes.span(passes);
    let spills: Vec<(f32, u32)> = (0..basins).map(|basin| nodes.spill(basin)).collect();
    raise(ground, node, label, &spills);
    for (place, &inlet) in marked.inlets.iter().enumerate() {
        node.values[inlet] = first_inlet + place as u32;
    }
    let seen = |cell: usize| {
        let level = ground.values[cell];
        (level, if level.is_nan() { OUTSIDE } else { inlet_node(cell).unwrap_or(node.values[cell]) })
    };
    tile.ring = Ring::of(ground).patch_cells().map(seen).collect();
    tile.ends = marked.ends.iter().copied().map(seen).collect();
    tile
}

/// Where water leaves the data, as far as the tile itself knows: cells at the raster's edge or beside missing data, and
/// the sinks of kept depressions; each with its level.
fn outside_passes(ground: &Patch<f32>, marked: &Marked) -> Vec<(usize, f32)> {
    let (cols, rows) = (ground.cols, ground.rows);
    let edges = [
        (0..cols).map(|col| (col, 0)).collect::<Vec<_>>(),
        (0..cols).map(|col| (col, rows - 1)).collect(),
        (0..rows).map(|row| (0, row)).collect(),
        (0..rows).map(|row| (cols - 1, row)).collect(),
    ];
    let at_edge = edges.iter().zip(marked.at_edge).filter(|(_, at_edge)| *at_edge).flat_map(|(cells, _)| cells);
    let mut leaving: Vec<usize> = at_edge.map(|&(col, row)| ground.at(col, row)).collect();
    for row in 0..rows {
        // Most tiles miss nothing; a whole row is looked at in one go.
        if ground.values[ground.row(row)].iter().any(|z| z.is_nan()) {
            let missing = ground.row(row).filter(|&cell| ground.values[cell].is_nan());
            leaving.extend(missing.flat_map(|cell| ground.around(cell)));
        }
    }
    leaving.extend(&marked.sinks);
    leaving.into_iter().map(|cell| (cell, ground.values[cell])).filter(|(_, level)| !level.is_nan()).collect()
}

/// Points each cell to the lowest of itself and its neighbours, the first of equals: a direction code, [`direction::ENDS`]
/// for the cell itself. `lower` notes which neighbours are lower, or equal and before the cell: a bit for each, in the order
/// of [`fallwright_units::NEIGHBOURS`].
#[multiversion(targets = "simd")]
fn point(ground: &Patch<f32>, pointer: &mut Patch<u8>, lower: &mut Patch<u8>) {
    let cols = ground.cols;
    pointer.surround(cols, ground.rows, BEYOND);
    lower.fit(cols, ground.rows, 0);
    for row in 0..ground.rows {
        let [ne, e, se, s, sw, w, nw, n] = ground.lines_around(row);
        let here = &ground.values[ground.row(row)];
        let to = &mut pointer.values[ground.row(row)];
        let lower = &mut lower.values[ground.row(row)];
        for col in 0..cols {
            let mut lowest = f32::INFINITY;
            let mut which = u32::from(direction::ENDS);
            let mut look = |z: f32, code: u8| {
                let lower = z < lowest;
                lowest = if lower { z } else { lowest };
                which = if lower { u32::from(code) } else { which };
            };
            look(nw[col], 7);
            look(n[col], 8);
            look(ne[col], 1);
            look(w[col], 6);
            look(here[col], direction::ENDS);
            look(e[col], 2);
            look(sw[col], 5);
            look(s[col], 4);
            look(se[col], 3);
            let z = here[col];
            to[col] = if z.is_nan() { direction::NODATA } else { which as u8 };
            let before = [(ne[col], 0), (w[col], 5), (nw[col], 6), (n[col], 7)];
            let after = [(e[col], 1), (se[col], 2), (s[col], 3), (sw[col], 4)];
            let before = before.into_iter().map(|(other, bit)| u32::from(other <= z) << bit).sum::<u32>();
            let after = after.into_iter().map(|(other, bit)| u32::from(other < z) << bit).sum::<u32>();
            lower[col] = (before + after) as u8;
        }
    }
}

/// Numbers the basins from 1 and labels every cell with its own; returns one more than the last number.
fn label(pointer: &Patch<u8>, label: &mut Patch<u32>, order: &mut FlowOrder) -> u32 {
    label.reset(pointer.cols, pointer.rows, NO_BASIN);
    order.find(pointer, |_, _| {});
    let offsets = receiver_offsets(pointer);
    let (pointers, labels) = (&pointer.values[..], &mut label.values[..]);
    let mut basins = OUTSIDE + 1;
    for &cell in order.cells().iter().rev() {
        let cell = cell as usize;
        let to = pointers[cell];
        let below = labels[cell.wrapping_add_signed(offsets[usize::from(to)])];
        labels[cell] = if to == direction::ENDS { basins } else { below };
        basins += u32::from(to == direction::ENDS);
    }
    basins
}

/// The passes between adjacent basins, as far as they matter: at its own level, a cell joins what lies lower around it, and
/// neighbours that are connected by cells lower than it are joined already.
fn collect(ground: &Patch<f32>, label: &Patch<u32>, lower: &Patch<u8>, saddles: &mut Vec<u32>, passes: &mut Vec<Pass>) {
    let offsets = ground.offsets();
    saddles.resize(ground.cols + 1, 0);
    for row in 0..ground.rows {
        let range = ground.row(row);
        // Every cell is noted, and written over if it is none: no branch that cannot be foreseen.
        let mut found = 0;
        for (cell, &around) in range.clone().zip(&lower.values[range]) {
            saddles[found] = cell as u32;
            found += usize::from(APART[usize::from(around)] != 0);
        }
        for &cell in &saddles[..found] {
            let cell = cell as usize;
            let a = label.values[cell];
            let mut apart = APART[usize::from(lower.values[cell])];
            while apart != 0 {
                let next = cell.wrapping_add_signed(offsets[apart.trailing_zeros() as usize]);
                apart &= apart - 1;
                let b = label.values[next];
                if a != b {
                    passes.push(Pass { level: ground.values[cell], a, b });
                }
            }
        }
    }
}

/// Of some neighbours of a cell, a bit for each, one of every group that touches; none where there is one group alone,
/// since the cell points into it.
const APART: [u8; 256] = {
    let mut table = [0; 256];
    let mut around = 0;
    while around < 256 {
        let apart = one_of_each_group(around as u8);
        table[around] = if apart.count_ones() > 1 { apart } else { 0 };
        around += 1;
    }
    table
};

const fn one_of_each_group(mut left: u8) -> u8 {
    let mut found = 0;
    while left != 0 {
        let first = left & left.wrapping_neg();
        found |= first;
        let mut group = first;
        loop {
            // The next on either side touch, and of neighbours across sides (odd positions) also the ones after.
            let sides = group & 0b1010_1010;
            let touching = group.rotate_left(1) | group.rotate_right(1) | sides.rotate_left(2) | sides.rotate_right(2);
            let grown = group | touching & left;
            if grown == group {
                break;
            }
            group = grown;
        }
        left &= !group;
    }
    found
}

/// Inlets take in the water of the basins around them.
fn intakes(ground: &Patch<f32>, label: &Patch<u32>, nodes: &Nodes, marked: &Marked, first_inlet: u32) -> Vec<Pass> {
    let mut intakes = Vec::new();
    for (place, &inlet) in marked.inlets.iter().enumerate() {
        for next in ground.around(inlet) {
            if label.values[next] != NO_BASIN {
                let level = ground.values[inlet].max(ground.values[next]);
                let (a, b) = (first_inlet + place as u32, nodes.node[label.values[next] as usize]);
                intakes.push(Pass { level, a, b });
            }
        }
    }
    intakes
}

#[multiversion(targets = "simd")]
fn raise(ground: &mut Patch<f32>, node: &mut Patch<u32>, label: &Patch<u32>, spills: &[(f32, u32)]) {
    node.surround(ground.cols, ground.rows, OUTSIDE);
    for row in 0..ground.rows {
        let range = ground.row(row);
        let cells = ground.values[range.clone()].iter_mut().zip(&mut node.values[range.clone()]);
        for ((z, node), &basin) in cells.zip(&label.values[range]) {
            let (level, to) = spills[basin as usize];
            // False where there is no data.
            *z = if level > *z { level } else { *z };
            *node = to;
        }
    }
}

const NO_NODE: u32 = u32::MAX;

/// Which basins are nodes, and where the others spill: a union-find of basins whose trees hang in one of nodes.
struct Nodes {
    /// By basin.
    node: Vec<u32>,
    count: u32,
    parent: Vec<u32>,
    /// Where a whole tree of basins first reaches a node, by its root.
    reached: Vec<(f32, u32)>,
    node_parent: Vec<u32>,
}

impl Nodes {
    fn new(basins: u32) -> Self {
        let mut nodes = Self {
            node: vec![NO_NODE; basins as usize],
            count: 0,
            parent: (0..basins).collect(),
            reached: vec![(f32::NEG_INFINITY, NO_NODE); basins as usize],
            node_parent: Vec::new(),
        };
        nodes.add(NO_BASIN);
        nodes
    }

    fn add(&mut self, basin: u32) {
        if self.node[basin as usize] == NO_NODE {
            self.node[basin as usize] = self.count;
            self.reached[basin as usize] = (f32::NEG_INFINITY, self.count);
            self.node_parent.push(self.count);
            self.count += 1;
        }
    }

    /// Names as nodes the basins along the tile's edge and those that structures end in or take in.
    fn name(&mut self, ground: &Patch<f32>, label: &Patch<u32>, marked: &Marked) {
        for cell in Ring::of(ground).patch_cells() {
            self.add(label.values[cell]);
        }
        for &end in &marked.ends {
            self.add(label.values[end]);
        }
        for &inlet in &marked.inlets {
            for next in ground.around(inlet) {
                self.add(label.values[next]);
            }
        }
    }

    /// Joins basins over the lowest passes first; returns those between nodes.
    fn span(&mut self, passes: &mut [Pass]) -> Vec<Pass> {
        passes.sort_unstable_by_key(|pass| rank(pass.level));
        let mut between = Vec::new();
        for &Pass { level, a, b } in passes.iter() {
            let (a, b) = (root(&mut self.parent, a), root(&mut self.parent, b));
            if a == b {
                continue;
            }
            match (self.reached[a as usize].1, self.reached[b as usize].1) {
                (NO_NODE, NO_NODE) => self.parent[a as usize] = b,
                (NO_NODE, node) => self.reached[a as usize] = (level, node),
                (node, NO_NODE) => self.reached[b as usize] = (level, node),
                (from, to) => {
                    let (from_root, to_root) = (root(&mut self.node_parent, from), root(&mut self.node_parent, to));
                    if from_root != to_root {
                        self.node_parent[from_root as usize] = to_root;
                        between.push(Pass { level, a: from, b: to });
                    }
                }
            }
        }
        between
    }

    /// The level at which a basin first spills to a node, and that node.
    fn spill(&mut self, basin: u32) -> (f32, u32) {
        let root = root(&mut self.parent, basin);
        self.reached[root as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_apart_where_higher_ground_lies_between() {
        let bits = |codes: &[u8]| codes.iter().map(|code| 1_u8 << (code - 1)).sum::<u8>();
        // Codes clockwise from 1, north-east, to 8, north.
        let check = |lower: &[u8], apart: &[u8]| assert_eq!(APART[usize::from(bits(lower))], bits(apart), "{lower:?}");
        check(&[], &[]);
        check(&[4], &[]);
        check(&[8, 1, 2, 3], &[]);
        check(&[2, 4, 6, 8], &[]);
        check(&[6, 8], &[]);
        check(&[4, 8], &[4, 8]);
        check(&[1, 3], &[1, 3]);
        check(&[2, 3, 5, 7], &[2, 5, 7]);
        check(&[1, 3, 5, 7], &[1, 3, 5, 7]);
    }
}
