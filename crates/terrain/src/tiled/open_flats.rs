//! Flats that reach into other tiles.
//!
//! Each tile finds its steps from what its neighbours have found at their edges; a tile is searched again while a
//! neighbour has a shorter way for one of its cells. Steps only fall and every one is the length of a way that is there,
//! so they settle at the lengths of the shortest ways, whatever the order of visits. No raster is read for it.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, NEIGHBOURS, TileSink};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::directions::Buffers;
use super::flats::{OpenParts, ring_cells};
use super::known::KnownCells;
use super::patch::{Patch, Pool};
use super::steps::{Sources, Steps, UNREACHED, WALL, Whole, mask_of};
use super::tiling::{Place, Tiling};
use crate::direction;
use crate::flow::ON_FLAT;

/// What the rest of the raster must know of one tile before its open flats are resolved.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileEdge {
    /// Code of each cell along the edge.
    pub ring: Vec<u8>,
    /// Codes of the outlets of structures under backwater, by position in the patch.
    pub outlets: BTreeMap<usize, u8>,
    /// Channel cells along the edge of the data that are part of a flat.
    pub passing: BTreeSet<usize>,
}

impl TileEdge {
    pub(crate) fn of(code: &Patch<u8>, outlets: &BTreeSet<usize>, passing: BTreeSet<usize>) -> Self {
        let ring = ring_cells(code).map(|cell| code.values[cell]).collect();
        let outlets = outlets.iter().map(|&cell| (cell, code.values[cell])).collect();
        Self { ring, outlets, passing }
    }
}

/// Two cells of one flat side by side across the edge of a tile.
#[derive(Clone, Copy, Debug)]
struct Crossing {
    /// Of the tile's own cell: its part, its position in the patch and along the edge.
    part: u32,
    here: u32,
    at: u32,
    /// Of the other one: its position in the margin, its tile, and its position along that tile's edge.
    margin: u32,
    tile: u32,
    beyond: u32,
}

/// A tile's open flats with what joins them to those of other tiles.
#[derive(Debug, Default)]
struct OpenTile {
    own: OpenParts,
    /// Cells along the edge beside a low edge in whatever tile, with the direction to it; in the order of the parts.
    low: Vec<(u32, u32, u8)>,
    /// In the order of the parts.
    crossings: Vec<Crossing>,
}

/// Steps toward the low edge and away from higher ground.
type Both = (u32, u32);

/// What the visits found of a tile's open flats.
#[derive(Clone, Debug, Default)]
struct Found {
    /// By position along the edge; those beside flats of other tiles.
    ring: Vec<Both>,
    /// By part: most steps away from higher ground.
    farthest: Vec<u32>,
    /// Steps of the outlets of structures under backwater that lie on open flats, by position in the patch.
    outlets: BTreeMap<usize, u32>,
    undrained: BTreeSet<usize>,
}

/// Open flats whose steps have settled.
pub(crate) struct OpenFlats<'a> {
    tiling: &'a Tiling,
    cells: &'a KnownCells,
    pool: &'a Pool<Buffers>,
    edges: Vec<TileEdge>,
    tiles: Vec<OpenTile>,
    found: Vec<Found>,
    inlet_steps: BTreeMap<Cell, u32>,
}

impl<'a> OpenFlats<'a> {
    pub(crate) fn settle(
        tiling: &'a Tiling,
        visited: Vec<(TileEdge, OpenParts)>,
        cells: &'a KnownCells,
        pool: &'a Pool<Buffers>,
    ) -> Self {
        let (edges, own): (Vec<TileEdge>, Vec<OpenParts>) = visited.into_iter().unzip();
        let level_inlets: BTreeSet<Cell> = cells.level_links.iter().map(|link| link.inlet).collect();
        let join = |(tile, own): (usize, OpenParts)| OpenTile::join(tiling, &edges, &level_inlets, tile, own);
        let tiles: Vec<OpenTile> = own.into_par_iter().enumerate().map(join).collect();
        let found = vec![Found::default(); edges.len()];
        let mut open = Self { tiling, cells, pool, edges, tiles, found, inlet_steps: BTreeMap::new() };
        let mut due: Vec<(usize, Vec<usize>)> =
            open.numbers().map(|tile| (tile, (0..open.tiles[tile].own.parts.len()).collect())).collect();
        while !due.is_empty() {
            let visited: Vec<Found> = due.par_iter().map(|(tile, parts)| open.visit(*tile, parts)).collect();
            for (&(tile, _), found) in due.iter().zip(visited) {
                open.found[tile] = found;
            }
            let carried = open.carry();
            let with_news = |tile: usize| (tile, open.parts_with_news(tile, &carried));
            due = open.numbers().map(with_news).filter(|(_, parts)| !parts.is_empty()).collect();
        }
        open
    }

    /// Tiles with open flats.
    fn numbers(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.tiles.len()).filter(|&tile| !self.tiles[tile].own.runs.is_empty())
    }

    /// Channel cells along the edge of the data from which no water can leave.
    pub(crate) fn undrained(&self) -> Vec<Cell> {
        let of_tile = |(tile, found): (usize, &Found)| {
            let dry: Vec<usize> = found.undrained.iter().copied().collect();
            self.tiling.cells_at(tile, &dry)
        };
        self.found.iter().enumerate().flat_map(of_tile).collect()
    }

    /// Gives every cell of open flats its direction.
    pub(crate) fn finish<E: Send>(&self, code: &impl TileSink<u8, Error = E>) -> Result<(), E> {
        let wholes = self.whole_flats();
        let tiles: Vec<usize> = self.numbers().collect();
        tiles.into_par_iter().try_for_each(|tile| {
            self.pool.with(|Buffers { code: codes, flats, .. }| {
                let window = self.tiling.window(tile);
                codes.load(code, window, direction::NODATA)?;
                let (open, steps) = (&self.tiles[tile], &mut flats.steps);
                // Cells beside a low edge need no search.
                let inner: Vec<usize> =
                    (0..open.own.parts.len()).filter(|&part| open.own.parts[part].has_inner).collect();
                self.search(tile, &inner, steps);
                self.resolve(tile, &inner, &wholes[tile], steps, codes);
                open.end(&inner, steps);
                codes.store(code, window)
            })
        })
    }

    /// What is found of a tile when some of its parts are searched again.
    fn visit(&self, tile: usize, parts: &[usize]) -> Found {
        self.pool.with(|Buffers { flats, .. }| {
            let steps = &mut flats.steps;
            self.search(tile, parts, steps);
            let found = self.look(tile, parts, steps);
            self.tiles[tile].end(parts, steps);
            found
        })
    }

    /// Finds the steps of parts of a tile's open flats from those that its neighbours have found.
    fn search(&self, tile: usize, parts: &[usize], steps: &mut Steps) {
        let open = &self.tiles[tile];
        let window = self.tiling.window(tile);
        let known = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        let (mut toward, mut away) = (Vec::new(), Vec::new());
        for &part in parts {
            steps.begin(window.cols, window.rows, open.own.runs_of(part));
            toward.clear();
            away.clear();
            for crossing in open.crossings_of(part) {
                let (beyond_toward, beyond_away) = self.beyond(*crossing);
                // What is not reached yet is nothing to step from.
                let found = |steps: u32, from: &mut Vec<(u32, u32)>| {
                    if steps != UNREACHED {
                        from.push((steps + 1, crossing.here));
                    }
                };
                found(beyond_toward, &mut toward);
                found(beyond_away, &mut away);
            }
            let beside = open.own.inlets.iter().filter(|inlet| inlet.2 as usize == part);
            toward.extend(beside.filter_map(|&(cell, inlet, _)| Some((known.get(&(inlet as usize))? + 1, cell))));
            let low = open.own.low_of(part).iter().copied().chain(open.low_of(part).iter().map(|low| low.1));
            steps.search_toward(Sources { nearest: low, later: &mut toward });
            let high = open.own.high_of(part).iter().copied();
            steps.search_away(Sources { nearest: high, later: &mut away });
        }
    }

    fn look(&self, tile: usize, parts: &[usize], steps: &Steps) -> Found {
        let (open, edge) = (&self.tiles[tile], &self.edges[tile]);
        let mut found = self.found[tile].clone();
        found.ring.resize(edge.ring.len(), (UNREACHED, UNREACHED));
        found.farthest.resize(open.own.parts.len(), UNREACHED);
        for &part in parts {
            for crossing in open.crossings_of(part) {
                let here = crossing.here as usize;
                found.ring[crossing.at as usize] = (steps.toward.values[here], steps.away.values[here]);
            }
            let runs = open.own.runs_of(part).iter();
            found.farthest[part] = runs.map(|&run| steps.farthest(run)).max().unwrap_or(UNREACHED);
        }
        // Cells of parts that were not searched now are as they were.
        let searched = |cell: usize| Some(steps.toward.values[cell]).filter(|&steps| steps != WALL);
        found.outlets.extend(edge.outlets.keys().filter_map(|&cell| Some((cell, searched(cell)?))));
        for &cell in &edge.passing {
            match searched(cell) {
                Some(UNREACHED) => _ = found.undrained.insert(cell),
                Some(_) => _ = found.undrained.remove(&cell),
                None => {}
            }
        }
        found
    }

    /// Directions of the cells that the first visit left on a flat; of `inner` parts after [`Self::search`].
    fn resolve(&self, tile: usize, inner: &[usize], wholes: &[Whole], steps: &mut Steps, code: &mut Patch<u8>) {
        let open = &self.tiles[tile];
        for &(_, cell, to) in &open.low {
            code.values[cell as usize] = to;
        }
        let beside_inlets = self.ways_to_inlets(tile, code);
        for &part in inner {
            for &run in open.own.runs_of(part) {
                steps.mask(run, wholes[part]);
            }
            for crossing in open.crossings_of(part) {
                let (toward, away) = self.beyond(*crossing);
                steps.away.values[crossing.margin as usize] = mask_of(toward, away, wholes[part]);
            }
            for cell in open.own.runs_of(part).iter().flat_map(|run| run.range()) {
                if code.values[cell] == ON_FLAT {
                    let inlets = beside_inlets.get(&cell).into_iter().flatten().copied();
                    code.values[cell] = inlets.chain([steps.lowest(cell)]).min().expect("at least one way").1;
                }
            }
        }
    }

    /// For cells beside inlets under backwater, the masks there and the directions to them.
    fn ways_to_inlets(&self, tile: usize, code: &Patch<u8>) -> BTreeMap<usize, Vec<(u32, u8)>> {
        let known = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        let mut ways: BTreeMap<usize, Vec<(u32, u8)>> = BTreeMap::new();
        for &(cell, inlet, _) in &self.tiles[tile].own.inlets {
            if let Some(steps) = known.get(&(inlet as usize)) {
                let to = direction_to(cell as usize, inlet as usize, code.stride);
                ways.entry(cell as usize).or_default().push((2 * steps, to));
            }
        }
        ways
    }

    fn beyond(&self, crossing: Crossing) -> Both {
        let ring = &self.found[crossing.tile as usize].ring;
        ring.get(crossing.beyond as usize).copied().unwrap_or((UNREACHED, UNREACHED))
    }

    /// Parts of a tile for which a neighbour has a shorter way; all where an inlet under backwater has one.
    fn parts_with_news(&self, tile: usize, carried: &BTreeSet<usize>) -> Vec<usize> {
        let open = &self.tiles[tile];
        if carried.contains(&tile) {
            return (0..open.own.parts.len()).collect();
        }
        let shorter = |known: u32, beyond: u32| beyond != UNREACHED && (known == UNREACHED || beyond + 1 < known);
        let has_news = |crossing: &&Crossing| {
            let (toward, away) = self.found[tile].ring[crossing.at as usize];
            let (beyond_toward, beyond_away) = self.beyond(**crossing);
            shorter(toward, beyond_toward) || shorter(away, beyond_away)
        };
        let mut parts: Vec<usize> =
            open.crossings.iter().filter(has_news).map(|crossing| crossing.part as usize).collect();
        parts.dedup();
        parts
    }

    /// Carries steps from outlets to the inlets of links under backwater, one more. Returns the tiles that see a change.
    fn carry(&mut self) -> BTreeSet<usize> {
        let mut changed = BTreeSet::new();
        let level_inlets: BTreeSet<Cell> = self.cells.level_links.iter().map(|link| link.inlet).collect();
        loop {
            let mut settled = true;
            for link in &self.cells.level_links {
                let steps = if level_inlets.contains(&link.outlet) {
                    self.inlet_steps.get(&link.outlet).copied().unwrap_or(UNREACHED)
                } else {
                    self.outlet_steps(link.outlet)
                };
                let known = self.inlet_steps.get(&link.inlet).copied().unwrap_or(UNREACHED);
                if steps != UNREACHED && (known == UNREACHED || steps + 1 < known) {
                    self.inlet_steps.insert(link.inlet, steps + 1);
                    changed.insert(link.inlet);
                    settled = false;
                }
            }
            if settled {
                break;
            }
        }
        let sees = |tile: &usize| self.cells.tiles[*tile].sees_any(&changed);
        if changed.is_empty() { BTreeSet::new() } else { self.numbers().filter(sees).collect() }
    }

    /// Steps of the outlet of a link under backwater: 1 where it does not lie on a flat.
    fn outlet_steps(&self, outlet: Cell) -> u32 {
        let (tile, index) = self.tiling.index(outlet);
        match self.edges[tile].outlets[&index] {
            direction::NODATA => UNREACHED,
            _ => self.found[tile].outlets.get(&index).copied().unwrap_or(1),
        }
    }

    /// Each tile's parts with what holds for the whole flat that they belong to.
    fn whole_flats(&self) -> Vec<Vec<Whole>> {
        let mut first = vec![0];
        for tile in &self.tiles {
            first.push(first[first.len() - 1] + tile.own.parts.len());
        }
        let mut parent: Vec<usize> = (0..first[self.tiles.len()]).collect();
        let part_at: Vec<BTreeMap<u32, u32>> = self.tiles.par_iter().map(OpenTile::parts_along_edge).collect();
        for (tile, open) in self.tiles.iter().enumerate() {
            for crossing in open.crossings.iter().filter(|crossing| crossing.tile as usize > tile) {
                let there = crossing.tile as usize;
                let other = first[there] + part_at[there][&crossing.beyond] as usize;
                let (a, b) = (root(&mut parent, first[tile] + crossing.part as usize), root(&mut parent, other));
                parent[a.max(b)] = a.min(b);
            }
        }
        let mut whole = vec![Whole::default(); parent.len()];
        for (tile, (open, found)) in self.tiles.iter().zip(&self.found).enumerate() {
            for (part, &farthest) in found.farthest.iter().enumerate() {
                let whole = &mut whole[root(&mut parent, first[tile] + part)];
                whole.farthest = whole.farthest.max(farthest);
            }
            for &(_, _, part) in &open.own.inlets {
                whole[root(&mut parent, first[tile] + part as usize)].beside_inlet = true;
            }
        }
        let all: Vec<Whole> = (0..parent.len()).map(|part| whole[root(&mut parent, part)]).collect();
        first.windows(2).map(|range| all[range[0]..range[1]].to_vec()).collect()
    }
}

impl OpenTile {
    fn join(tiling: &Tiling, edges: &[TileEdge], level_inlets: &BTreeSet<Cell>, tile: usize, own: OpenParts) -> Self {
        let stride = tiling.window(tile).cols + 2;
        let (mut low, mut crossings) = (Vec::new(), Vec::new());
        for part in 0..own.parts.len() {
            for ring in own.ring_of(part) {
                let (part, cell) = (part as u32, ring.cell as usize);
                let here = Place { tile, col: cell % stride - 1, row: cell / stride - 1 };
                let mut to_low_edge = Some(ring.to_low_edge).filter(|&to| to != 0);
                for position in (0..8).filter(|position| ring.level_beyond >> position & 1 == 1) {
                    let there = tiling.step(here, NEIGHBOURS[position]).expect("level ground lies in the frame");
                    let beyond = tiling.ring_position(there);
                    let code = edges[there.tile].ring[beyond];
                    if code == ON_FLAT {
                        let (at, margin) = (tiling.ring_position(here), tiling.margin_index(tile, there));
                        let [at, margin, tile, beyond] = [at, margin, there.tile, beyond].map(|number| number as u32);
                        crossings.push(Crossing { part, here: ring.cell, at, margin, tile, beyond });
                    } else if code != direction::CARRIED || !level_inlets.contains(&tiling.cell(there)) {
                        let to = direction::of_neighbour(position);
                        to_low_edge = Some(to_low_edge.map_or(to, |known| known.min(to)));
                    }
                }
                low.extend(to_low_edge.map(|to| (part, ring.cell, to)));
            }
        }
        Self { own, low, crossings }
    }

    fn crossings_of(&self, part: usize) -> &[Crossing] {
        of_part(&self.crossings, part, |crossing| crossing.part)
    }

    fn low_of(&self, part: usize) -> &[(u32, u32, u8)] {
        of_part(&self.low, part, |low| low.0)
    }

    /// Clears what a search of some parts left behind.
    fn end(&self, parts: &[usize], steps: &mut Steps) {
        for &part in parts {
            steps.end(self.own.runs_of(part));
            for crossing in self.crossings_of(part) {
                steps.away.values[crossing.margin as usize] = WALL;
            }
        }
    }

    /// The part of each cell along the edge that touches a flat of another tile, by its position there.
    fn parts_along_edge(&self) -> BTreeMap<u32, u32> {
        self.crossings.iter().map(|crossing| (crossing.at, crossing.part)).collect()
    }
}

/// The items of one part, in a list that is sorted by parts.
fn of_part<T>(all: &[T], part: usize, part_of: impl Fn(&T) -> u32) -> &[T] {
    let first = all.partition_point(|item| (part_of(item) as usize) < part);
    let length = all[first..].partition_point(|item| part_of(item) as usize == part);
    &all[first..first + length]
}

/// The direction code from a position of a patch to one beside it.
fn direction_to(from: usize, to: usize, stride: usize) -> u8 {
    let step = |(dc, dr): (i32, i32)| from.wrapping_add_signed(dr as isize * stride as isize + dc as isize);
    let position = NEIGHBOURS.into_iter().position(|neighbour| step(neighbour) == to);
    direction::of_neighbour(position.expect("the two are neighbours"))
}

/// The representative of an item's set; shortens the way to it.
pub(super) fn root(parent: &mut [usize], mut item: usize) -> usize {
    while parent[item] != item {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    item
}
