//! Flats that reach into other tiles.
//!
//! Each tile knows the steps of its edge from its own cells. In every round it is given the shorter ways that lead in from its
//! neighbours' edges, spreads them over its flats, and reports the steps of its own edge. Steps only fall and every one is the
//! length of a way that is there, so they settle at the lengths of the shortest ways, whatever the order of visits; a round
//! that shortens nothing is the last. No raster is read for it.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, NEIGHBOURS};
use rayon::prelude::*;

use super::bits::PackedBits;
use super::flat_tasks::{FlatReply, FlatTask};
use super::flats::{OpenCells, TileEdge, TileFlats};
use super::flow_constraints::ConstrainedCells;
use super::shared_steps::{SharedSteps, fewest, one_more};
use super::shore::{is_flat, to_low_edge, with_low_edge};
use super::steps::{BESIDE_LOW_EDGE, UNREACHED};
use super::tiling::{Ring, TilePlace, Tiling};
use crate::direction;

/// What spreads over the flats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Search {
    /// Steps toward the low edge.
    Toward,
    /// Steps away from higher ground.
    Away,
    /// That an inlet under backwater is beside the flat, so that the gradient away from higher ground is left out; the steps
    /// are of no use.
    FromInlet,
}

/// A tile's open flats.
#[derive(Debug, Default)]
struct OpenTile {
    cells: PackedBits,
    /// What is known so far, by search; nothing of inlets under backwater where there are none.
    known: [SharedSteps; 3],
    /// Cells beside a level inlet under backwater: the cell and the inlet.
    inlets: Vec<(usize, usize)>,
}

/// The open flats of all tiles between the rounds of their search.
#[derive(Debug)]
pub struct OpenFlats<'a> {
    tiling: &'a Tiling,
    cells: &'a ConstrainedCells,
    edges: Vec<TileEdge>,
    tiles: Vec<OpenTile>,
    inlet_steps: BTreeMap<Cell, u32>,
    /// Channel cells on closed flats from which no water can leave.
    undrained: Vec<Cell>,
    /// The search that goes on, and the tiles that may get shorter ways; `None` once all steps have settled.
    round: Option<(Search, BTreeSet<usize>)>,
}

impl<'a> OpenFlats<'a> {
    pub(crate) fn new(tiling: &'a Tiling, cells: &'a ConstrainedCells, tiles: Vec<TileFlats>) -> Self {
        let in_tiles = tiles.iter().enumerate().flat_map(|(tile, flats)| tiling.cells_at(tile, &flats.undrained));
        let undrained = in_tiles.collect();
        let (edges, own): (Vec<TileEdge>, Vec<OpenCells>) =
            tiles.into_iter().map(|flats| (flats.edge, flats.open)).unzip();
        let inlet_steps = BTreeMap::new();
        let mut open = Self { tiling, cells, edges, tiles: Vec::new(), inlet_steps, undrained, round: None };
        let rings = own.par_iter().enumerate().map(|(tile, own)| open.with_low_edges_beyond(tile, own)).collect();
        let tiles = own.into_par_iter().enumerate().map(|(tile, own)| open.tile(tile, own)).collect();
        open.tiles = tiles;
        for (edge, ring) in open.edges.iter_mut().zip::<Vec<Vec<u8>>>(rings) {
            edge.ring = ring;
        }
        open.carry();
        open.begin(Search::Toward);
        open
    }

    /// The tiles that may get shorter ways in the next round; `None` once all steps have settled.
    pub fn due(&self) -> Option<Vec<usize>> {
        self.round.as_ref().map(|(_, due)| due.iter().copied().collect())
    }

    /// A due tile's part of the round; `None` where no way is shorter.
    pub fn task(&self, tile: usize) -> Option<FlatTask<'_>> {
        let (search, _) = self.round.as_ref()?;
        let open = &self.tiles[tile];
        if open.cells.is_empty() {
            return None;
        }
        let shorter = self.shorter(tile, *search);
        let known = || open.known[*search as usize].clone();
        (!shorter.is_empty()).then(|| FlatTask { cells: Cow::Borrowed(&open.cells), known: known(), shorter })
    }

    /// Ends a round with what its tiles found.
    pub fn take(&mut self, found: Vec<(usize, SharedSteps)>) {
        let Some((search, _)) = self.round.take() else { return };
        let mut due = BTreeSet::new();
        for (tile, known) in found {
            self.tiles[tile].known[search as usize] = known;
            due.extend(NEIGHBOURS.iter().filter_map(|&step| self.tiling.tile_beside(tile, step)));
        }
        if search == Search::Toward {
            due.extend(self.carry());
        }
        if !due.is_empty() {
            self.round = Some((search, due));
        } else if search == Search::Toward {
            self.begin(Search::Away);
        } else if search == Search::Away && self.tiles.iter().any(|tile| !tile.inlets.is_empty()) {
            self.begin_at_inlets();
            self.begin(Search::FromInlet);
        }
    }

    /// Tiles with open flats.
    pub fn tiles(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.tiles.len()).filter(|&tile| !self.tiles[tile].cells.is_empty())
    }

    /// Channel cells from which no water can leave, once all steps have settled: these channels lead nowhere. Where there are
    /// any, their water is to be let out at the edge of the data, and all steps are to be done again.
    pub fn undrained(&self) -> Vec<Cell> {
        let of_tile = |(tile, open): (usize, &OpenTile)| {
            let watched = &open.known[Search::Toward as usize].watched;
            let is_dry = |cell: &&usize| watched.get(cell) == Some(&UNREACHED);
            let dry: Vec<usize> = self.edges[tile].passing.iter().filter(is_dry).copied().collect();
            self.tiling.cells_at(tile, &dry)
        };
        self.undrained.iter().copied().chain(self.tiles.iter().enumerate().flat_map(of_tile)).collect()
    }

    /// What a tile must know to set the directions of its cells on open flats.
    pub fn reply(&self, tile: usize) -> FlatReply {
        let open = &self.tiles[tile];
        let mut reply = FlatReply {
            ring: self.edges[tile].ring.clone(),
            inlets: open.inlets.clone(),
            inlet_steps: self.cells.tiles[tile].inlet_steps(&self.inlet_steps),
            watched: open.known[Search::Toward as usize].watched.clone(),
            ..FlatReply::default()
        };
        let stride = self.tiling.window(tile).cols + 2;
        self.tiling.around(tile, |col, row, there, at| {
            if is_flat(self.edges[there].ring[at]) {
                let cell = row * stride + col;
                reply.margin.push(cell);
                for (beyond, known) in reply.beyond.iter_mut().zip(&self.tiles[there].known) {
                    beyond.extend(known.ring.get(at).filter(|&&steps| steps != UNREACHED).map(|&steps| (steps, cell)));
                }
            }
        });
        reply
    }

    fn begin(&mut self, search: Search) {
        self.round = Some((search, (0..self.tiles.len()).collect()));
    }

    fn begin_at_inlets(&mut self) {
        for (tile, open) in self.tiles.iter_mut().enumerate().filter(|(_, open)| !open.cells.is_empty()) {
            let beside_inlets = open.inlets.iter().map(|&(cell, _)| (cell, UNREACHED)).collect();
            open.known[Search::FromInlet as usize] = SharedSteps::new(self.tiling.ring(tile), beside_inlets);
        }
    }

    /// The codes along the edge of a tile, with the low edges that lie in other tiles.
    fn with_low_edges_beyond(&self, tile: usize, own: &OpenCells) -> Vec<u8> {
        let mut codes = self.edges[tile].ring.clone();
        if own.ring.is_empty() {
            return codes;
        }
        let beyond = self.codes_around(tile);
        let mut ring = own.ring.iter();
        for ((col, row), code) in self.tiling.ring(tile).cells().zip(&mut codes).filter(|(_, code)| is_flat(**code)) {
            let level_beyond = ring.next().expect("every cell of an open flat along the edge").level_beyond;
            for position in (0..8).filter(|position| level_beyond >> position & 1 == 1) {
                let there = beyond.of(col, row, position).expect("a neighbour in another tile");
                let is_level_inlet = || {
                    let there = self.tiling.step(TilePlace { tile, col, row }, NEIGHBOURS[position]);
                    let there = self.tiling.cell(there.expect("level ground lies in the frame"));
                    self.cells.level_links.iter().any(|link| link.inlet == there)
                };
                if !is_flat(there) && (there != direction::CARRIED || !is_level_inlet()) {
                    *code = with_low_edge(*code, direction::of_neighbour(position));
                }
            }
        }
        codes
    }

    fn codes_around(&self, tile: usize) -> CodesAround {
        let Ring { cols, rows } = self.tiling.ring(tile);
        let margin = Ring { cols: cols + 2, rows: rows + 2 };
        let mut codes = vec![direction::NODATA; margin.len()];
        self.tiling.around(tile, |col, row, there, at| {
            codes[margin.position(col, row).expect("a place in the margin")] = self.edges[there].ring[at];
        });
        CodesAround { margin, codes }
    }

    fn tile(&self, tile: usize, own: OpenCells) -> OpenTile {
        if own.cells.is_empty() {
            return OpenTile::default();
        }
        let edge = self.tiling.ring(tile);
        let mut known =
            [SharedSteps::new(edge, own.watched), SharedSteps::new(edge, BTreeMap::new()), SharedSteps::default()];
        let flat = self.edges[tile].ring.iter().enumerate().filter(|&(_, &code)| is_flat(code));
        for ((at, _), ring) in flat.zip(own.ring) {
            known[Search::Toward as usize].ring[at] = ring.toward;
            known[Search::Away as usize].ring[at] = ring.away;
        }
        OpenTile { cells: own.cells, known, inlets: own.inlets }
    }

    /// Cells of a tile with fewer steps than known: from neighbouring tiles, the low edge there, and inlets under backwater.
    fn shorter(&self, tile: usize, search: Search) -> Vec<(u32, usize)> {
        let open = &self.tiles[tile];
        let known = &open.known[search as usize];
        let edge = self.tiling.ring(tile);
        let beyond = self.beyond(tile, search);
        let ring = edge.cells().zip(&self.edges[tile].ring).zip(known.ring.iter().zip(&beyond));
        let along_edge = ring.filter(|((_, code), _)| is_flat(**code)).map(|((place, &code), (&known, &beyond))| {
            let low = search == Search::Toward && to_low_edge(code).is_some();
            let steps = if low { BESIDE_LOW_EDGE } else { one_more(beyond) };
            (steps, edge.in_patch(place), known)
        });
        let inlets = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        let beside_inlets = open.inlets.iter().filter(|_| search != Search::Away).map(|(cell, inlet)| {
            let steps = match search {
                Search::FromInlet => 1,
                _ => one_more(inlets.get(inlet).copied().unwrap_or(UNREACHED)),
            };
            (steps, *cell, known.watched[cell])
        });
        let is_shorter = |&(steps, _, known): &(u32, usize, u32)| fewest(steps, known) != known;
        along_edge.chain(beside_inlets).filter(is_shorter).map(|(steps, cell, _)| (steps, cell)).collect()
    }

    /// By position along the edge of a tile, the fewest steps of neighbours in other tiles.
    fn beyond(&self, tile: usize, search: Search) -> Vec<u32> {
        let edge = self.tiling.ring(tile);
        let mut beyond = vec![UNREACHED; edge.len()];
        for (dc, dr) in NEIGHBOURS {
            let Some(beside) = self.tiling.tile_beside(tile, (dc, dr)) else { continue };
            let known = &self.tiles[beside].known[search as usize].ring;
            if known.is_empty() {
                continue;
            }
            let facing: Vec<u32> = self.tiling.ring(beside).side((-dc, -dr)).map(|at| known[at]).collect();
            for (place, at) in edge.side((dc, dr)).enumerate() {
                let touching = &facing[place.saturating_sub(1)..facing.len().min(place + 2)];
                beyond[at] = touching.iter().copied().fold(beyond[at], fewest);
            }
        }
        beyond
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
        if changed.is_empty() { BTreeSet::new() } else { self.tiles().filter(sees).collect() }
    }

    /// Steps of the outlet of a link under backwater: 1 where it does not lie on a flat.
    fn outlet_steps(&self, outlet: Cell) -> u32 {
        let (tile, index) = self.tiling.index(outlet);
        match self.edges[tile].outlets[&index] {
            direction::NODATA => UNREACHED,
            _ => self.tiles[tile].known[Search::Toward as usize].watched.get(&index).copied().unwrap_or(1),
        }
    }
}

/// Codes of the cells around a tile, or their marks.
struct CodesAround {
    margin: Ring,
    codes: Vec<u8>,
}

impl CodesAround {
    /// The code of a neighbour of a cell of the tile, by its position in [`NEIGHBOURS`]; `None` where it lies in the tile.
    fn of(&self, col: usize, row: usize, position: usize) -> Option<u8> {
        let (dc, dr) = NEIGHBOURS[position];
        let (col, row) = ((col + 1).wrapping_add_signed(dc as isize), (row + 1).wrapping_add_signed(dr as isize));
        self.margin.position(col, row).map(|at| self.codes[at])
    }
}
