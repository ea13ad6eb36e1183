//! Flats that reach into other tiles.
//!
//! Each tile finds its steps from what its neighbours have found at their edges; a tile is visited again while a
//! neighbour has a shorter way for one of its cells. Steps only fall and every one is the length of a way that is there,
//! so they settle at the lengths of the shortest ways, whatever the order of visits.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, TileSink, TileSource, Window};
use rayon::prelude::*;

use super::directions::Buffers;
use super::flats::{Flats, Part, UNREACHED, ring_cells};
use super::known::KnownCells;
use super::patch::{Patch, Pool};
use super::tiling::{Place, Tiling};
use crate::direction;
use crate::flow::ON_FLAT;

/// What neighbouring tiles must know of one tile before its open flats are resolved.
#[derive(Debug)]
pub(crate) struct TileEdge {
    /// Level and code of each cell along the edge.
    ring: Vec<(f32, u8)>,
    /// Channel cells along the edge of the data that are part of a flat.
    passing: BTreeSet<usize>,
    has_open_flats: bool,
}

impl TileEdge {
    pub(crate) fn of(surface: &Patch<f32>, code: &Patch<u8>, passing: BTreeSet<usize>) -> Self {
        let ring = ring_cells(code).map(|cell| (surface.values[cell], code.values[cell])).collect();
        Self { ring, passing, has_open_flats: code.values.contains(&ON_FLAT) }
    }
}

/// What one visit found of a tile's open flats.
#[derive(Clone, Debug, Default)]
struct Found {
    /// By position along the edge: steps toward the low edge and away from higher ground, and the part of the tile's flats.
    ring: Vec<(u32, u32, u32)>,
    parts: Vec<Part>,
    /// Steps of the outlets of structures under backwater.
    outlets: BTreeMap<Cell, u32>,
    undrained: Vec<Cell>,
}

/// Open flats whose steps have settled.
pub(crate) struct OpenFlats<'a> {
    tiling: &'a Tiling,
    cells: &'a KnownCells,
    pool: &'a Pool<Buffers>,
    edges: Vec<TileEdge>,
    /// By tile; empty where it has no open flats.
    found: Vec<Found>,
    inlet_steps: BTreeMap<Cell, u32>,
}

impl<'a> OpenFlats<'a> {
    pub(crate) fn settle<E: Send>(
        tiling: &'a Tiling,
        edges: Vec<TileEdge>,
        cells: &'a KnownCells,
        pool: &'a Pool<Buffers>,
        surface: &impl TileSource<f32, Error = E>,
        code: &impl TileSource<u8, Error = E>,
    ) -> Result<Self, E> {
        let found = vec![Found::default(); edges.len()];
        let mut open = Self { tiling, cells, pool, edges, found, inlet_steps: BTreeMap::new() };
        let mut due = open.tiles();
        while !due.is_empty() {
            let visited: Vec<Found> =
                due.par_iter().map(|&tile| open.visit(tile, surface, code)).collect::<Result<_, E>>()?;
            for (&tile, found) in due.iter().zip(visited) {
                open.found[tile] = found;
            }
            let carried = open.carry(code)?;
            let shorter = |tile: &usize| open.has_shorter_way(*tile) || carried.contains(tile);
            due = open.tiles().into_par_iter().filter(shorter).collect();
        }
        Ok(open)
    }

    fn tiles(&self) -> Vec<usize> {
        (0..self.edges.len()).filter(|&tile| self.edges[tile].has_open_flats).collect()
    }

    pub(crate) fn undrained(&self) -> Vec<Cell> {
        self.found.iter().flat_map(|found| found.undrained.iter().copied()).collect()
    }

    /// Gives every cell of open flats its direction.
    pub(crate) fn finish<E: Send>(
        &self,
        surface: &impl TileSource<f32, Error = E>,
        code: &impl TileSink<u8, Error = E>,
    ) -> Result<(), E> {
        let parts = self.whole_flats();
        self.tiles().into_par_iter().try_for_each(|tile| {
            self.pool.with(|buffers| {
                let beyond = self.step(tile, surface, code, buffers)?;
                let Buffers { surface: patch, code: codes, flats } = buffers;
                let backwater = self.cells.tiles[tile].backwater(&self.inlet_steps);
                Flats { surface: patch, backwater: &backwater }.resolve_open(codes, flats, &parts[tile], &beyond);
                codes.store(code, self.tiling.window(tile))
            })
        })
    }

    fn visit<E>(
        &self,
        tile: usize,
        surface: &impl TileSource<f32, Error = E>,
        code: &impl TileSource<u8, Error = E>,
    ) -> Result<Found, E> {
        self.pool.with(|buffers| {
            self.step(tile, surface, code, buffers)?;
            let Buffers { code: codes, flats, .. } = &*buffers;
            let toward = |cell: usize| flats.steps_of(cell).0;
            let parts: BTreeMap<usize, u32> = flats.ring_parts(codes).collect();
            let ring = ring_cells(codes).map(|cell| {
                let (toward, away) = flats.steps_of(cell);
                (toward, away, parts.get(&cell).map_or(0, |part| part + 1))
            });
            let outlets = self.cells.tiles[tile].backwater(&self.inlet_steps).outlets.into_iter();
            let dry = self.edges[tile].passing.iter().copied();
            // Cells of closed flats were looked at before.
            let dry =
                dry.filter(|&cell| codes.values[cell] == ON_FLAT && toward(cell) == UNREACHED).collect::<Vec<_>>();
            Ok(Found {
                ring: ring.collect(),
                parts: flats.parts.clone(),
                outlets: outlets.map(|cell| (self.tiling.cells_at(tile, &[cell])[0], toward(cell))).collect(),
                undrained: self.tiling.cells_at(tile, &dry),
            })
        })
    }

    fn step<E>(
        &self,
        tile: usize,
        surface: &impl TileSource<f32, Error = E>,
        code: &impl TileSource<u8, Error = E>,
        buffers: &mut Buffers,
    ) -> Result<Vec<(usize, u32, u32)>, E> {
        let Buffers { surface: patch, code: codes, flats } = buffers;
        let window = self.tiling.window(tile);
        patch.load_with_margin(surface, window, f32::NAN)?;
        codes.load(code, window, direction::NODATA)?;
        let mut beyond = Vec::new();
        for (_, there) in self.tiling.across_edge(tile) {
            let index = self.tiling.margin_index(tile, there);
            codes.values[index] = self.edge(there).1;
            let (toward, away, _) = self.found_at(there);
            if codes.values[index] == ON_FLAT {
                beyond.push((index, toward, away));
            }
        }
        let backwater = self.cells.tiles[tile].backwater(&self.inlet_steps);
        Flats { surface: patch, backwater: &backwater }.step(codes, flats, &beyond);
        Ok(beyond)
    }

    fn edge(&self, place: Place) -> (f32, u8) {
        self.edges[place.tile].ring[self.tiling.ring_position(place)]
    }

    fn found_at(&self, place: Place) -> (u32, u32, u32) {
        let ring = &self.found[place.tile].ring;
        if ring.is_empty() { (UNREACHED, UNREACHED, 0) } else { ring[self.tiling.ring_position(place)] }
    }

    /// Whether two cells of different tiles are of one flat.
    fn is_one_flat(&self, here: Place, there: Place) -> bool {
        let ((z, code), (other_z, other_code)) = (self.edge(here), self.edge(there));
        code == ON_FLAT && other_code == ON_FLAT && z == other_z
    }

    fn has_shorter_way(&self, tile: usize) -> bool {
        let shorter = |known: u32, beyond: u32| beyond != UNREACHED && (known == UNREACHED || beyond + 1 < known);
        self.tiling.across_edge(tile).filter(|&(here, there)| self.is_one_flat(here, there)).any(|(here, there)| {
            let ((toward, away, _), (beyond_toward, beyond_away, _)) = (self.found_at(here), self.found_at(there));
            shorter(toward, beyond_toward) || shorter(away, beyond_away)
        })
    }

    /// Carries steps from outlets to the inlets of links under backwater, one more. Returns the tiles that see a change.
    fn carry<E>(&mut self, code: &impl TileSource<u8, Error = E>) -> Result<BTreeSet<usize>, E> {
        let mut changed = BTreeSet::new();
        let mut at_outlet = BTreeMap::new();
        for link in &self.cells.level_links {
            let (col, row) = self.tiling.frame.col_row(link.outlet);
            let mut found = [direction::NODATA];
            code.read(Window { col, row, cols: 1, rows: 1 }, &mut found, 1)?;
            let tile = self.tiling.place(link.outlet).tile;
            let steps = match found[0] {
                direction::NODATA => UNREACHED,
                ON_FLAT => self.found[tile].outlets.get(&link.outlet).copied().unwrap_or(UNREACHED),
                _ => 1,
            };
            at_outlet.insert(link.outlet, steps);
        }
        let level_inlets: BTreeSet<Cell> = self.cells.level_links.iter().map(|link| link.inlet).collect();
        loop {
            let mut settled = true;
            for link in &self.cells.level_links {
                let steps = if level_inlets.contains(&link.outlet) {
                    self.inlet_steps.get(&link.outlet).copied().unwrap_or(UNREACHED)
                } else {
                    at_outlet[&link.outlet]
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
        Ok(self.tiles_that_see(&changed))
    }

    fn tiles_that_see(&self, inlets: &BTreeSet<Cell>) -> BTreeSet<usize> {
        let sees = |tile: &usize| self.cells.tiles[*tile].sees_any(inlets);
        if inlets.is_empty() { BTreeSet::new() } else { (0..self.edges.len()).filter(sees).collect() }
    }

    /// Each tile's parts with what holds for the whole flat that they belong to.
    fn whole_flats(&self) -> Vec<Vec<Part>> {
        let mut first = vec![0];
        for found in &self.found {
            first.push(first[first.len() - 1] + found.parts.len());
        }
        let mut parent: Vec<usize> = (0..first[self.found.len()]).collect();
        for tile in self.tiles() {
            for (here, there) in self.tiling.across_edge(tile).filter(|(_, there)| there.tile > tile) {
                if self.is_one_flat(here, there) {
                    let part = |place: Place| first[place.tile] + self.found_at(place).2 as usize - 1;
                    let (a, b) = (root(&mut parent, part(here)), root(&mut parent, part(there)));
                    parent[a.max(b)] = a.min(b);
                }
            }
        }
        let mut whole: Vec<Part> = self.found.iter().flat_map(|found| found.parts.iter().copied()).collect();
        for part in 0..whole.len() {
            let (root, mine) = (root(&mut parent, part), whole[part]);
            whole[root].farthest = whole[root].farthest.max(mine.farthest);
            whole[root].beside_inlet |= mine.beside_inlet;
        }
        for part in 0..whole.len() {
            let all = whole[root(&mut parent, part)];
            whole[part].farthest = all.farthest;
            whole[part].beside_inlet = all.beside_inlet;
        }
        first.windows(2).map(|range| whole[range[0]..range[1]].to_vec()).collect()
    }
}

/// The representative of an item's set; shortens the way to it.
pub(super) fn root(parent: &mut [usize], mut item: usize) -> usize {
    while parent[item] != item {
        parent[item] = parent[parent[item]];
        item = parent[item];
    }
    item
}
