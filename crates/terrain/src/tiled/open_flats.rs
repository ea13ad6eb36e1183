//! Flats that reach into other tiles.
//!
//! Each tile knows the steps of its edge from its own cells, and hears of shorter ways from its neighbours' edges; as long as
//! there are any, it spreads them over its flats. Steps only fall and every one is the length of a way that is there, so they
//! settle at the lengths of the shortest ways, whatever the order of visits. No raster is read for it.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, NEIGHBOURS, TileSink};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::bits::{Bits, PackedBits};
use super::directions::Buffers;
use super::flats::{FlatBuffers, Known, OpenCells, fewest, ring_cells};
use super::known::KnownCells;
use super::lowest::Masks;
use super::patch::{Patch, Pool};
use super::shore::{self, is_flat, to_low_edge, with_low_edge};
use super::steps::{Asked, BESIDE_HIGHER, BESIDE_LOW_EDGE, UNREACHED};
use super::tiling::{Place, Ring, Tiling};
use crate::direction;

/// What the rest of the raster must know of one tile before its open flats are resolved.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileEdge {
    /// Code of each cell along the edge, or the mark of one on an open flat.
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
    known: [Known; 3],
    /// Cells beside a level inlet under backwater: the cell and the inlet.
    inlets: Vec<(usize, usize)>,
}

/// Open flats whose steps have settled.
pub(crate) struct OpenFlats<'a> {
    tiling: &'a Tiling,
    cells: &'a KnownCells,
    pool: &'a Pool<Buffers>,
    edges: Vec<TileEdge>,
    tiles: Vec<OpenTile>,
    inlet_steps: BTreeMap<Cell, u32>,
}

impl<'a> OpenFlats<'a> {
    pub(crate) fn settle(
        tiling: &'a Tiling,
        visited: Vec<(TileEdge, OpenCells)>,
        cells: &'a KnownCells,
        pool: &'a Pool<Buffers>,
    ) -> Self {
        let (edges, own): (Vec<TileEdge>, Vec<OpenCells>) = visited.into_iter().unzip();
        let mut open = Self { tiling, cells, pool, edges, tiles: Vec::new(), inlet_steps: BTreeMap::new() };
        let rings = own.par_iter().enumerate().map(|(tile, own)| open.with_low_edges_beyond(tile, own)).collect();
        let tiles = own.into_par_iter().enumerate().map(|(tile, own)| open.tile(tile, own)).collect();
        open.tiles = tiles;
        for (edge, ring) in open.edges.iter_mut().zip::<Vec<Vec<u8>>>(rings) {
            edge.ring = ring;
        }
        open.spread(Search::Toward);
        open.spread(Search::Away);
        if open.tiles.iter().any(|tile| !tile.inlets.is_empty()) {
            open.begin_at_inlets();
            open.spread(Search::FromInlet);
        }
        open
    }

    fn begin_at_inlets(&mut self) {
        for (tile, open) in self.tiles.iter_mut().enumerate().filter(|(_, open)| !open.cells.is_empty()) {
            let beside_inlets = open.inlets.iter().map(|&(cell, _)| (cell, UNREACHED)).collect();
            open.known[Search::FromInlet as usize] = Known::new(self.tiling.ring(tile), beside_inlets);
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
                    let there = self.tiling.step(Place { tile, col, row }, NEIGHBOURS[position]);
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
        let mut known = [Known::new(edge, own.watched), Known::new(edge, BTreeMap::new()), Known::default()];
        let flat = self.edges[tile].ring.iter().enumerate().filter(|&(_, &code)| is_flat(code));
        for ((at, _), ring) in flat.zip(own.ring) {
            known[Search::Toward as usize].ring[at] = ring.toward;
            known[Search::Away as usize].ring[at] = ring.away;
        }
        OpenTile { cells: own.cells, known, inlets: own.inlets }
    }

    /// Spreads shorter ways from tile to tile until there are none.
    fn spread(&mut self, search: Search) {
        let mut due: BTreeSet<usize> = (0..self.tiles.len()).collect();
        if search == Search::Toward {
            self.carry();
        }
        while !due.is_empty() {
            let visit = |tile: usize| Some((tile, self.visit(tile, search)?));
            let visited: Vec<(usize, Known)> = due.into_par_iter().filter_map(visit).collect();
            due = BTreeSet::new();
            for (tile, known) in visited {
                self.tiles[tile].known[search as usize] = known;
                due.extend(NEIGHBOURS.iter().filter_map(|&step| self.tiling.tile_beside(tile, step)));
            }
            if search == Search::Toward {
                due.extend(self.carry());
            }
        }
    }

    /// Tiles with open flats.
    fn numbers(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.tiles.len()).filter(|&tile| !self.tiles[tile].cells.is_empty())
    }

    /// Channel cells along the edge of the data from which no water can leave.
    pub(crate) fn undrained(&self) -> Vec<Cell> {
        let of_tile = |(tile, open): (usize, &OpenTile)| {
            let watched = &open.known[Search::Toward as usize].watched;
            let is_dry = |cell: &&usize| watched.get(cell) == Some(&UNREACHED);
            let dry: Vec<usize> = self.edges[tile].passing.iter().filter(is_dry).copied().collect();
            self.tiling.cells_at(tile, &dry)
        };
        self.tiles.iter().enumerate().flat_map(of_tile).collect()
    }

    /// What is known of a tile when the shorter ways of its neighbours are heard of; `None` where there are none.
    fn visit(&self, tile: usize, search: Search) -> Option<Known> {
        let open = &self.tiles[tile];
        if open.cells.is_empty() {
            return None;
        }
        let mut news = self.news(tile, search);
        if news.is_empty() {
            return None;
        }
        let mut known = open.known[search as usize].clone();
        self.pool.with(|Buffers { flats: FlatBuffers { open: cells, asked, toward: steps, .. }, .. }| {
            let edge = self.tiling.ring(tile);
            cells.clear(edge.cols, edge.rows);
            open.cells.unpack(cells);
            asked.clear_like(cells);
            let flat = edge.cells().zip(&self.edges[tile].ring).filter(|(_, code)| is_flat(**code));
            for cell in flat.map(|(place, _)| edge.in_patch(place)).chain(known.watched.keys().copied()) {
                asked.insert(cell);
            }
            steps.begin(cells);
            steps.spread(UNREACHED, &mut news, known.asked(asked));
        });
        Some(known)
    }

    /// Cells of a tile with fewer steps than known: from neighbouring tiles, the low edge there, and inlets under backwater.
    fn news(&self, tile: usize, search: Search) -> Vec<(u32, usize)> {
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
        let is_news = |&(steps, _, known): &(u32, usize, u32)| fewest(steps, known) != known;
        along_edge.chain(beside_inlets).filter(is_news).map(|(steps, cell, _)| (steps, cell)).collect()
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

    /// Gives every cell of open flats its direction.
    pub(crate) fn finish<E: Send>(&self, code: &impl TileSink<u8, Error = E>) -> Result<(), E> {
        let tiles: Vec<usize> = self.numbers().collect();
        tiles.into_par_iter().try_for_each(|tile| {
            self.pool.with(|Buffers { code: codes, flats, .. }| {
                let window = self.tiling.window(tile);
                codes.load(code, window, direction::NODATA)?;
                self.resolve(tile, codes, flats);
                codes.store(code, window)
            })
        })
    }

    /// Directions of the cells that the first visit left with their marks.
    fn resolve(&self, tile: usize, code: &mut Patch<u8>, buffers: &mut FlatBuffers) {
        let open = &self.tiles[tile];
        let ring = self.tiling.ring(tile).cells().zip(&self.edges[tile].ring);
        for ((col, row), &mark) in ring.filter(|(_, mark)| is_flat(**mark)) {
            let cell = code.at(col, row);
            code.values[cell] = mark;
        }
        let FlatBuffers { marked, open: beside_inlet, inner, asked: none, toward, away, lowest, .. } = buffers;
        marked.read(code);
        inner.set_to([&marked.flat, &marked.low], |flat, low| flat & !low);
        none.clear_like(inner);
        let nobody = || Asked { cells: none, tell: |_, _| {} };
        let [mut beyond_toward, mut beyond_away, beyond_inlet] = self.take_in_margin(tile, &mut marked.flat);
        let inlets = self.cells.tiles[tile].inlet_steps(&self.inlet_steps);
        let beside_inlets = open.inlets.iter().filter_map(|(cell, inlet)| Some((one_more(*inlets.get(inlet)?), *cell)));
        beyond_toward.extend(beside_inlets);
        toward.begin(&marked.flat);
        for cell in open.inlets.iter().map(|inlet| inlet.0).chain(beyond_inlet.iter().map(|beyond| beyond.1)) {
            toward.begin_at_cell(cell);
        }
        toward.flood();
        beside_inlet.set_to([&marked.flat, &toward.unreached], |flat, unreached| flat & !unreached);
        toward.begin(&marked.flat);
        toward.begin_at(&marked.low);
        toward.spread(BESIDE_LOW_EDGE, &mut beyond_toward, nobody());
        away.begin(&marked.flat);
        away.begin_at(&marked.high);
        away.spread(BESIDE_HIGHER, &mut beyond_away, nobody());
        away.leave_out(beside_inlet);
        let masks = Masks { flat: &marked.flat, toward: &toward.digits, away: &away.digits };
        lowest.drain(&masks, inner, code);
        shore::drain(&marked.low, code);
        self.lead_to_inlets(tile, &inlets, inner, code);
    }

    /// Adds the flat cells around a tile to its own. Returns them, where they are reached, with their steps by search.
    fn take_in_margin(&self, tile: usize, flat: &mut Bits) -> [Vec<(u32, usize)>; 3] {
        let stride = self.tiling.window(tile).cols + 2;
        let mut beyond: [Vec<(u32, usize)>; 3] = Default::default();
        self.tiling.around(tile, |col, row, there, at| {
            if is_flat(self.edges[there].ring[at]) {
                let cell = row * stride + col;
                flat.insert(cell);
                for (beyond, known) in beyond.iter_mut().zip(&self.tiles[there].known) {
                    beyond.extend(known.ring.get(at).filter(|&&steps| steps != UNREACHED).map(|&steps| (steps, cell)));
                }
            }
        });
        beyond
    }

    /// Leads water from inner cells into inlets under backwater that are as near to the low edge as their nearest neighbours.
    fn lead_to_inlets(&self, tile: usize, known: &BTreeMap<usize, u32>, inner: &Bits, code: &mut Patch<u8>) {
        let open = &self.tiles[tile];
        for &(cell, inlet) in open.inlets.iter().filter(|inlet| inner.contains(inlet.0)) {
            let steps = open.known[Search::Toward as usize].watched[&cell];
            if known.get(&inlet).is_some_and(|inlet| inlet + 1 == steps) {
                let to = direction_to(cell, inlet, code.stride);
                let beside = &mut code.values[cell];
                *beside = if *beside == direction::ENDS { to } else { to.min(*beside) };
            }
        }
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

/// One step more, where there are any.
fn one_more(steps: u32) -> u32 {
    steps + u32::from(steps != UNREACHED)
}

/// The direction code from a position of a patch to one beside it.
fn direction_to(from: usize, to: usize, stride: usize) -> u8 {
    let step = |(dc, dr): (i32, i32)| from.wrapping_add_signed(dr as isize * stride as isize + dc as isize);
    let position = NEIGHBOURS.into_iter().position(|neighbour| step(neighbour) == to);
    direction::of_neighbour(position.expect("the two are neighbours"))
}
