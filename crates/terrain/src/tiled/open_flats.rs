//! Flats that reach into other tiles.
//!
//! Each tile finds its steps from what its neighbours have found at their edges; a tile is searched again while a
//! neighbour has a shorter way for one of its cells. Steps only fall and every one is the length of a way that is there,
//! so they settle at the lengths of the shortest ways, whatever the order of visits. No raster is read for it.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, TileSink};
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
    /// Level and code of each cell along the edge.
    pub ring: Vec<(f32, u8)>,
    /// Codes of the outlets of structures under backwater, by position in the patch.
    pub outlets: BTreeMap<usize, u8>,
    /// Channel cells along the edge of the data that are part of a flat.
    pub passing: BTreeSet<usize>,
}

impl TileEdge {
    pub(crate) fn of(
        surface: &Patch<f32>,
        code: &Patch<u8>,
        outlets: &BTreeSet<usize>,
        passing: BTreeSet<usize>,
    ) -> Self {
        let ring = ring_cells(code).map(|cell| (surface.values[cell], code.values[cell])).collect();
        let outlets = outlets.iter().map(|&cell| (cell, code.values[cell])).collect();
        Self { ring, outlets, passing }
    }
}

/// Two cells of one flat side by side across the edge of a tile.
#[derive(Clone, Copy, Debug)]
struct Crossing {
    /// The tile's own cell: its position in the patch and along the edge.
    here: u32,
    at: u32,
    /// The other one: its position in the margin, its tile, and its position along that tile's edge.
    margin: u32,
    tile: u32,
    beyond: u32,
}

/// A tile's open flats with what joins them to those of other tiles.
#[derive(Debug, Default)]
struct OpenTile {
    own: OpenParts,
    /// Cells along the edge beside a low edge in whatever tile, with the direction to it.
    low_along_edge: Vec<(u32, u8)>,
    crossings: Vec<Crossing>,
    /// By crossing, the part of the tile's own cell.
    parts: Vec<u32>,
}

/// Steps toward the low edge and away from higher ground.
type Both = (u32, u32);

/// What one visit found of a tile's open flats.
#[derive(Clone, Debug, Default)]
struct Found {
    /// By position along the edge.
    ring: Vec<Both>,
    /// By part: most steps away from higher ground.
    farthest: Vec<u32>,
    /// Steps of the outlets of structures under backwater that lie on open flats, by position in the patch.
    outlets: BTreeMap<usize, u32>,
    undrained: Vec<usize>,
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
        let mut due: Vec<usize> = open.numbers().collect();
        while !due.is_empty() {
            let visited: Vec<Found> = due.par_iter().map(|&tile| open.visit(tile)).collect();
            for (&tile, found) in due.iter().zip(visited) {
                open.found[tile] = found;
            }
            let carried = open.carry();
            let has_news = |tile: &usize| open.has_shorter_way(*tile) || carried.contains(tile);
            due = open.numbers().filter(has_news).collect();
        }
        open
    }

    /// Tiles with open flats.
    fn numbers(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.tiles.len()).filter(|&tile| !self.tiles[tile].own.runs.is_empty())
    }

    /// Channel cells along the edge of the data from which no water can leave.
    pub(crate) fn undrained(&self) -> Vec<Cell> {
        let of_tile = |(tile, found): (usize, &Found)| self.tiling.cells_at(tile, &found.undrained);
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
                self.search(tile, &mut flats.steps);
                self.resolve(tile, &wholes[tile], &mut flats.steps, codes);
                self.end(tile, &mut flats.steps);
                codes.store(code, window)
            })
        })
    }

    fn visit(&self, tile: usize) -> Found {
        self.pool.with(|Buffers { flats, .. }| {
            let steps = &mut flats.steps;
            self.search(tile, steps);
            let found = self.look(tile, steps);
            self.end(tile, steps);
            found
        })
    }

    /// Finds the steps of a tile's open flats from those that its neighbours have found.
    fn search(&self, tile: usize, steps: &mut Steps) {
        let OpenTile { own, low_along_edge, crossings, .. } = &self.tiles[tile];
        let window = self.tiling.window(tile);
        steps.begin(window.cols, window.rows, &own.runs);
        let (mut toward, mut away) = (Vec::new(), Vec::new());
        for crossing in crossings {
            let (beyond_toward, beyond_away) = self.beyond(*crossing);
            // What is not reached yet is nothing to step from, and nothing to step to.
            let found = |steps: u32, from: &mut Vec<(u32, u32)>| {
                if steps != UNREACHED {
                    from.push((steps + 1, crossing.here));
                }
            };
            found(beyond_toward, &mut toward);
            found(beyond_away, &mut away);
        }
        toward.extend(self.beside_inlets(tile).map(|(cell, inlet_steps)| (inlet_steps + 1, cell)));
        let low = own.low.iter().copied().chain(low_along_edge.iter().map(|&(cell, _)| cell));
        steps.search_toward(Sources { nearest: low, later: &mut toward });
        steps.search_away(Sources { nearest: own.high.iter().copied(), later: &mut away });
    }

    /// Cells beside inlets under backwater whose steps are known.
    fn beside_inlets(&self, tile: usize) -> impl Iterator<Item = (u32, u32)> + '_ {
        let known = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        let inlets = self.tiles[tile].own.inlets.iter();
        inlets.filter_map(move |&(cell, inlet, _)| Some((cell, *known.get(&(inlet as usize))?)))
    }

    fn end(&self, tile: usize, steps: &mut Steps) {
        steps.end(&self.tiles[tile].own.runs);
        for crossing in &self.tiles[tile].crossings {
            steps.away.values[crossing.margin as usize] = WALL;
        }
    }

    fn look(&self, tile: usize, steps: &Steps) -> Found {
        let own = &self.tiles[tile].own;
        let is_open = |cell: &usize| steps.toward.values[*cell] != WALL;
        let known = |steps: u32| if steps == WALL { UNREACHED } else { steps };
        let ring = ring_cells(&steps.toward);
        let both = |cell: usize| (known(steps.toward.values[cell]), known(steps.away.values[cell]));
        let mut farthest = vec![UNREACHED; own.parts as usize];
        for &run in &own.runs {
            let part = &mut farthest[run.part as usize];
            *part = steps.farthest(run).max(*part);
        }
        let edge = &self.edges[tile];
        let outlets = edge.outlets.keys().copied().filter(is_open);
        let dry = edge.passing.iter().copied().filter(|&cell| steps.toward.values[cell] == UNREACHED);
        Found {
            ring: ring.map(both).collect(),
            farthest,
            outlets: outlets.map(|cell| (cell, steps.toward.values[cell])).collect(),
            undrained: dry.collect(),
        }
    }

    /// Directions of the cells that the first visit left on a flat, after [`Self::search`].
    fn resolve(&self, tile: usize, wholes: &[Whole], steps: &mut Steps, code: &mut Patch<u8>) {
        let OpenTile { own, low_along_edge, crossings, parts } = &self.tiles[tile];
        for run in &own.runs {
            steps.mask(*run, wholes[run.part as usize]);
        }
        for (crossing, &part) in crossings.iter().zip(parts) {
            let (toward, away) = self.beyond(*crossing);
            steps.away.values[crossing.margin as usize] = mask_of(toward, away, wholes[part as usize]);
        }
        for &(cell, to) in low_along_edge {
            code.values[cell as usize] = to;
        }
        let mut beside_inlets: BTreeMap<usize, Vec<(u32, u8)>> = BTreeMap::new();
        let known = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        for &(cell, inlet, _) in &own.inlets {
            let around = code.around(cell as usize);
            let position = around.iter().position(|&next| next == inlet as usize).expect("an inlet beside the cell");
            if let Some(steps) = known.get(&(inlet as usize)) {
                let way = (2 * steps, direction::of_neighbour(position));
                beside_inlets.entry(cell as usize).or_default().push(way);
            }
        }
        for cell in own.runs.iter().flat_map(|run| run.range()) {
            if code.values[cell] == ON_FLAT {
                let inlets = beside_inlets.get(&cell).into_iter().flatten().copied();
                code.values[cell] = inlets.chain([steps.lowest(cell)]).min().expect("at least one way").1;
            }
        }
    }

    fn beyond(&self, crossing: Crossing) -> Both {
        let ring = &self.found[crossing.tile as usize].ring;
        ring.get(crossing.beyond as usize).copied().unwrap_or((UNREACHED, UNREACHED))
    }

    fn has_shorter_way(&self, tile: usize) -> bool {
        let shorter = |known: u32, beyond: u32| beyond != UNREACHED && (known == UNREACHED || beyond + 1 < known);
        self.tiles[tile].crossings.iter().any(|&crossing| {
            let (toward, away) = self.found[tile].ring[crossing.at as usize];
            let (beyond_toward, beyond_away) = self.beyond(crossing);
            shorter(toward, beyond_toward) || shorter(away, beyond_away)
        })
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
            first.push(first[first.len() - 1] + tile.own.parts as usize);
        }
        let mut parent: Vec<usize> = (0..first[self.tiles.len()]).collect();
        let part_at: Vec<BTreeMap<u32, u32>> = self.tiles.par_iter().map(OpenTile::parts_along_edge).collect();
        for (tile, open) in self.tiles.iter().enumerate() {
            let later = open.crossings.iter().zip(&open.parts).filter(|(crossing, _)| crossing.tile as usize > tile);
            for (crossing, &part) in later {
                let there = crossing.tile as usize;
                let other = first[there] + part_at[there][&crossing.beyond] as usize;
                let (a, b) = (root(&mut parent, first[tile] + part as usize), root(&mut parent, other));
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
        let mut low: BTreeMap<u32, u8> = own.low_along_edge.iter().copied().collect();
        let (mut crossings, mut parts) = (Vec::new(), Vec::new());
        let edge = |place: Place, at: usize| edges[place.tile].ring[at];
        let stride = tiling.window(tile).cols + 2;
        let pairs = tiling.across_edge(tile).take(if own.runs.is_empty() { 0 } else { usize::MAX });
        for (here, there) in pairs {
            let at = tiling.ring_position(here);
            let (level, code) = edge(here, at);
            let beyond = tiling.ring_position(there);
            let (other_level, other_code) = edge(there, beyond);
            if code != ON_FLAT || level != other_level {
                continue;
            }
            let index = (here.row + 1) * stride + here.col + 1;
            let margin = tiling.margin_index(tile, there);
            if other_code == ON_FLAT {
                let (here, at, margin) = (index as u32, at as u32, margin as u32);
                crossings.push(Crossing { here, at, margin, tile: there.tile as u32, beyond: beyond as u32 });
                parts.push(own.part_of(index as u32));
            } else if other_code != direction::CARRIED || !level_inlets.contains(&tiling.cell(there)) {
                let to = direction_to(index, margin, stride);
                low.entry(index as u32).and_modify(|known| *known = to.min(*known)).or_insert(to);
            }
        }
        Self { own, low_along_edge: low.into_iter().collect(), crossings, parts }
    }

    /// The part of each cell along the edge that touches a flat of another tile, by its position there.
    fn parts_along_edge(&self) -> BTreeMap<u32, u32> {
        self.crossings.iter().map(|crossing| crossing.at).zip(self.parts.iter().copied()).collect()
    }
}

impl OpenParts {
    fn part_of(&self, cell: u32) -> u32 {
        let after = self.runs.partition_point(|run| run.start <= cell);
        self.runs[after - 1].part
    }
}

/// The direction code from a position of a patch to one beside it.
fn direction_to(from: usize, to: usize, stride: usize) -> u8 {
    let step = |(dc, dr): (i32, i32)| from.wrapping_add_signed(dr as isize * stride as isize + dc as isize);
    let position = fallwright_units::NEIGHBOURS.into_iter().position(|neighbour| step(neighbour) == to);
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
