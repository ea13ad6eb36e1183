//! The join of filling: at what level each node's water finds its way out of the raster.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use fallwright_units::Cell;
use rayon::prelude::*;

use super::basins::{OUTSIDE, TileBasins};
use super::passes::{Pass, Passes, level_of, rank};
use super::patch::Pool;
use super::tiling::Tiling;
use crate::link::Links;

/// Floods the graph of nodes from the outside, lowest level first. Returns by tile the level of every node; that of [`OUTSIDE`]
/// is below everything.
///
/// `ends` says for each link's cell its tile and its place in [`TileBasins::ends`].
///
/// *Complexity*: O(p log p) for p passes between nodes.
///
/// # Errors
/// Inlets of links through which no water can leave.
///
/// *References*: R. Barnes, C. Lehman & D. Mulla (2014), see [`crate::textbook::fill`].
pub(crate) fn join(
    tiling: &Tiling,
    tiles: &[TileBasins],
    links: &Links,
    ends: &BTreeMap<Cell, (usize, usize)>,
) -> Result<Vec<Vec<f32>>, Vec<Cell>> {
    let mut first = vec![0_u32];
    for tile in tiles {
        first.push(first[first.len() - 1] + tile.nodes);
    }
    let graph = Graph::new(tiling, tiles, &first);
    let carried = Carried::new(tiles, links, ends, &first);
    let levels = flood(&graph, &carried, &first);
    let is_dry = |inlet: &Cell| {
        let (tile, place) = ends[inlet];
        levels[(first[tile] + tiles[tile].ends[place].1) as usize] == f32::INFINITY
    };
    let blocked: Vec<Cell> = links.iter().map(|link| link.inlet).filter(is_dry).collect();
    if !blocked.is_empty() {
        return Err(blocked);
    }
    let of_tile = |nodes: &[u32]| levels[nodes[0] as usize..nodes[1] as usize].to_vec();
    Ok(first.windows(2).map(of_tile).collect())
}

/// Nodes of the whole raster with the passes by which the flood goes from each to others. A tile's [`OUTSIDE`] is the
/// first of its nodes; the flood starts from all of them.
struct Graph {
    /// Where the passes of each node begin.
    start: Vec<u32>,
    /// The other node and the level of the pass.
    to: Vec<(u32, f32)>,
}

impl Graph {
    fn new(tiling: &Tiling, tiles: &[TileBasins], first: &[u32]) -> Self {
        let pool = Pool::<Passes>::default();
        let of_tile = |tile: usize| {
            pool.with(|passes| {
                let whole = |pass: &Pass| Pass { a: pass.a + first[tile], b: pass.b + first[tile], ..*pass };
                let whole = |passes: &[Pass]| passes.iter().map(whole).collect();
                let mut found = Found { both: whole(&tiles[tile].passes), one_way: whole(&tiles[tile].intakes) };
                across(tiling, tiles, first, tile, passes, &mut found);
                found
            })
        };
        let found: Vec<Found> = (0..tiles.len()).into_par_iter().map(of_tile).collect();
        let steps = || {
            let both = found.iter().flat_map(|found| &found.both);
            let both = both.flat_map(|&Pass { level, a, b }| [(a, b, level), (b, a, level)]);
            both.chain(found.iter().flat_map(|found| &found.one_way).map(|&Pass { level, a, b }| (a, b, level)))
        };
        let mut start = vec![0_u32; first[tiles.len()] as usize + 1];
        for (from, _, _) in steps() {
            start[from as usize + 1] += 1;
        }
        for node in 1..start.len() {
            start[node] += start[node - 1];
        }
        let mut next = start.clone();
        let mut to = vec![(0, 0.0); start[start.len() - 1] as usize];
        for (from, node, level) in steps() {
            to[next[from as usize] as usize] = (node, level);
            next[from as usize] += 1;
        }
        Self { start, to }
    }

    fn passes(&self, node: u32) -> &[(u32, f32)] {
        &self.to[self.start[node as usize] as usize..self.start[node as usize + 1] as usize]
    }
}

/// Passes by the nodes of the whole raster; one-way ones lead the flood from `a` to `b`.
struct Found {
    both: Vec<Pass>,
    one_way: Vec<Pass>,
}

/// Passes between a tile and those after it, and from either side to the outside where the other has no data.
fn across(tiling: &Tiling, tiles: &[TileBasins], first: &[u32], tile: usize, passes: &mut Passes, found: &mut Found) {
    passes.clear();
    for (here, there) in tiling.across_edge(tile).filter(|(_, there)| there.tile > tile) {
        let at = |tile: usize, col, row| {
            let ring = tiling.ring(tile);
            let (level, node) =
                tiles[tile].ring[ring.position(col, row).expect("neighbours across tiles lie on edges")];
            (level, node + first[tile], node >= tiles[tile].first_inlet)
        };
        let (z, node, is_inlet) = at(tile, here.col, here.row);
        let (other_z, other, other_is_inlet) = at(there.tile, there.col, there.row);
        let level = z.max(other_z);
        match (z.is_nan(), other_z.is_nan()) {
            (true, true) => {}
            (true, false) if other_is_inlet => {}
            (true, false) => passes.add(other_z, other, OUTSIDE + first[there.tile]),
            (false, true) if is_inlet => {}
            (false, true) => passes.add(z, node, OUTSIDE + first[tile]),
            (false, false) => match (is_inlet, other_is_inlet) {
                (false, false) => passes.add(level, node, other),
                (true, false) => found.one_way.push(Pass { level, a: node, b: other }),
                (false, true) => found.one_way.push(Pass { level, a: other, b: node }),
                (true, true) => {}
            },
        }
    }
    passes.finish();
    found.both.append(&mut passes.all);
}

/// Links by the node of their outlet: the node of the inlet, and the higher of the two ends.
struct Carried(BTreeMap<u32, Vec<(u32, f32)>>);

impl Carried {
    fn new(tiles: &[TileBasins], links: &Links, ends: &BTreeMap<Cell, (usize, usize)>, first: &[u32]) -> Self {
        let mut by_outlet: BTreeMap<u32, Vec<(u32, f32)>> = BTreeMap::new();
        let seen = |cell: Cell| {
            let (tile, place) = ends[&cell];
            let (level, node) = tiles[tile].ends[place];
            (level, node + first[tile])
        };
        for link in links.iter() {
            let ((inlet_z, inlet), (outlet_z, outlet)) = (seen(link.inlet), seen(link.outlet));
            if !inlet_z.is_nan() && !outlet_z.is_nan() {
                by_outlet.entry(outlet).or_default().push((inlet, inlet_z.max(outlet_z)));
            }
        }
        Self(by_outlet)
    }

    fn passes(&self, node: u32) -> &[(u32, f32)] {
        self.0.get(&node).map_or(&[], Vec::as_slice)
    }
}

fn flood(graph: &Graph, carried: &Carried, first: &[u32]) -> Vec<f32> {
    let mut levels = vec![f32::INFINITY; graph.start.len() - 1];
    // The rank of the level above, the node below.
    let packed = |level: f32, node: u32| Reverse(u64::from(rank(level)) << 32 | u64::from(node));
    let mut open = BinaryHeap::new();
    for &node in &first[..first.len() - 1] {
        levels[node as usize] = f32::NEG_INFINITY;
        open.push(packed(f32::NEG_INFINITY, node + OUTSIDE));
    }
    while let Some(Reverse(lowest)) = open.pop() {
        let (level, node) = (level_of((lowest >> 32) as u32), lowest as u32);
        if level > levels[node as usize] {
            continue;
        }
        for &(next, pass) in graph.passes(node).iter().chain(carried.passes(node)) {
            let reached = pass.max(level);
            if reached < levels[next as usize] {
                levels[next as usize] = reached;
                open.push(packed(reached, next));
            }
        }
    }
    levels
}
