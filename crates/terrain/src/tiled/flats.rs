//! Flats of one tile.
//!
//! The rules are those of [`crate::textbook`]: a mask of integers, twice the steps to the low edge plus how much nearer to
//! higher ground a cell is than the flat's farthest one. A cell beside the low edge drains to it whatever its mask. A flat
//! with no level neighbour in another tile is done at once. The others are *open*: what the tile itself knows of them is
//! kept, and they are resolved with the other tiles.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::NEIGHBOURS;
use serde::{Deserialize, Serialize};

use super::bits::{Bits, PackedBits};
use super::flow_constraints::Backwater;
use super::lowest::{Lowest, Masks};
use super::patch::Patch;
use super::shared_steps::SharedSteps;
use super::shore::{self, Marked, Shore};
use super::steps::{BESIDE_HIGHER, BESIDE_LOW_EDGE, Steps, UNREACHED};
use super::tiling::Ring;
use crate::direction::ON_FLAT;

/// What the rest of the raster must know of one tile's flats.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileFlats {
    pub edge: TileEdge,
    pub open: OpenCells,
    /// Channel cells on flats inside the tile from which no water can leave, by position in the patch.
    pub undrained: Vec<usize>,
}

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

/// What a tile itself knows of its open flats; cells by position in its patch.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct OpenCells {
    pub cells: PackedBits,
    /// Those along the tile's edge, in the order of their positions there.
    pub ring: Vec<RingCell>,
    /// Steps toward the low edge of the cells that others than the neighbouring tiles ask for: beside structures under
    /// backwater, and channel cells along the edge of the data.
    pub watched: BTreeMap<usize, u32>,
    /// Cells beside a level inlet under backwater: the cell and the inlet.
    pub inlets: Vec<(usize, usize)>,
}

/// A cell of an open flat along the edge of its tile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RingCell {
    /// Which of its neighbours are level with it and lie in other tiles: a bit for each, in the order of [`NEIGHBOURS`].
    pub level_beyond: u8,
    /// Steps toward the low edge and away from higher ground, as far as the tile itself knows.
    pub toward: u32,
    pub away: u32,
}

#[derive(Debug, Default)]
pub(crate) struct FlatBuffers {
    shore: Shore,
    pub(crate) marked: Marked,
    pub(crate) open: Bits,
    pub(crate) inner: Bits,
    closed: Bits,
    pub(crate) asked: Bits,
    pub(crate) toward: Steps,
    pub(crate) away: Steps,
    pub(crate) lowest: Lowest,
}

/// A tile with everything that says where water goes from its flats.
pub(crate) struct Flats<'a> {
    pub(crate) surface: &'a Patch<f32>,
    pub(crate) backwater: Backwater,
    /// Channel cells along the edge of the data that are part of a flat.
    pub(crate) passing: BTreeSet<usize>,
}

/// A flat cell along the edge of its tile.
struct EdgeCell {
    /// Its position along the edge, and in the patch.
    at: usize,
    cell: usize,
    level_beyond: u8,
}

impl Flats<'_> {
    /// Gives the flat cells their directions where the tile itself decides them, and their marks elsewhere.
    pub(crate) fn resolve_closed(self, code: &mut Patch<u8>, buffers: &mut FlatBuffers) -> TileFlats {
        let (open, undrained) =
            if code.values.contains(&ON_FLAT) { self.resolve(code, buffers) } else { Default::default() };
        let ring = Ring::of(code).patch_cells().map(|cell| code.values[cell]).collect();
        let outlets = self.backwater.outlets.iter().map(|&cell| (cell, code.values[cell])).collect();
        TileFlats { edge: TileEdge { ring, outlets, passing: self.passing }, open, undrained }
    }

    /// Returns the open flats, and the channel cells on closed ones that no water can leave from.
    fn resolve(&self, code: &mut Patch<u8>, buffers: &mut FlatBuffers) -> (OpenCells, Vec<usize>) {
        let in_tile = self.backwater.inlets.iter().copied().filter(|&inlet| code.is_inside(inlet));
        buffers.shore.find(self.surface, code, in_tile);
        let inlets = self.cells_beside_inlets(code);
        let edge: Vec<EdgeCell> = Ring::of(code)
            .patch_cells()
            .enumerate()
            .filter(|&(_, cell)| code.values[cell] == ON_FLAT)
            .map(|(at, cell)| EdgeCell { at, cell, level_beyond: self.level_beyond(code, cell) })
            .collect();
        buffers.shore.mark(code);
        buffers.marked.read(code);
        self.find_open(&edge, &inlets, buffers);
        let (ring, mut watched) = self.search(code, &edge, &inlets, buffers);
        drain_closed(code, buffers);
        let FlatBuffers { open, .. } = buffers;
        let is_dry = |(&cell, &steps): (&usize, &u32)| (steps == UNREACHED && !open.contains(cell)).then_some(cell);
        let undrained = watched.iter().filter_map(is_dry).collect();
        watched.retain(|&cell, _| open.contains(cell));
        (OpenCells { cells: PackedBits::of(open), ring, watched, inlets }, undrained)
    }

    /// Finds the flats that reach into other tiles, or that a structure under backwater leads to or from: these are resolved
    /// with all others that it leads to.
    fn find_open(&self, edge: &[EdgeCell], inlets: &[(usize, usize)], buffers: &mut FlatBuffers) {
        let FlatBuffers { marked, open, away: steps, .. } = buffers;
        let beside_others = edge.iter().filter(|edge| edge.level_beyond != 0).map(|edge| edge.cell);
        let outlets = self.backwater.outlets.iter().copied();
        steps.begin(&marked.flat);
        for cell in beside_others.chain(outlets).chain(inlets.iter().map(|inlet| inlet.0)) {
            steps.begin_at_cell(cell);
        }
        steps.flood();
        open.set_to([&marked.flat, &steps.unreached], |flat, unreached| flat & !unreached);
    }

    /// Searches all flats of the tile. Returns what is found of the cells along the edge on open flats, and the steps toward
    /// the low edge of those that are watched.
    fn search(
        &self,
        code: &Patch<u8>,
        edge: &[EdgeCell],
        inlets: &[(usize, usize)],
        buffers: &mut FlatBuffers,
    ) -> (Vec<RingCell>, BTreeMap<usize, u32>) {
        let FlatBuffers { marked, open, asked, toward, away, .. } = buffers;
        let outlets = self.backwater.outlets.iter().copied().filter(|&outlet| marked.flat.contains(outlet));
        let watched = outlets.chain(self.passing.iter().copied()).chain(inlets.iter().map(|inlet| inlet.0));
        let ring = Ring::of(code);
        asked.clear_like(&marked.flat);
        let mut toward_low = SharedSteps::new(ring, watched.map(|cell| (cell, UNREACHED)).collect());
        let mut away_from_high = SharedSteps::new(ring, BTreeMap::new());
        for cell in edge.iter().map(|edge| edge.cell).chain(toward_low.watched.keys().copied()) {
            asked.insert(cell);
        }
        toward.begin(&marked.flat);
        toward.begin_at(&marked.low);
        toward.spread(BESIDE_LOW_EDGE, &mut [], toward_low.asked(asked));
        away.begin(&marked.flat);
        away.begin_at(&marked.high);
        away.spread(BESIDE_HIGHER, &mut [], away_from_high.asked(asked));
        let ring_cell = |&EdgeCell { at, level_beyond, .. }: &EdgeCell| RingCell {
            level_beyond,
            toward: toward_low.ring[at],
            away: away_from_high.ring[at],
        };
        let ring = edge.iter().filter(|edge| open.contains(edge.cell)).map(ring_cell).collect();
        (ring, toward_low.watched)
    }

    fn level_beyond(&self, code: &Patch<u8>, cell: usize) -> u8 {
        let level = self.surface.values[cell];
        let is_level_beyond = |next: usize| self.surface.values[next] == level && !code.is_inside(next);
        let around = self.surface.around(cell).into_iter().enumerate();
        around.map(|(position, next)| u8::from(is_level_beyond(next)) << position).sum()
    }

    /// Flat cells beside a level inlet under backwater, with it.
    fn cells_beside_inlets(&self, code: &Patch<u8>) -> Vec<(usize, usize)> {
        let is_level_flat = |cell: usize, inlet: usize| {
            code.values[cell] == ON_FLAT && self.surface.values[cell] == self.surface.values[inlet]
        };
        let beside = |&inlet: &usize| {
            let (col, row) = (inlet % code.stride, inlet / code.stride);
            let cells = NEIGHBOURS.into_iter().filter_map(move |(dc, dr)| {
                let col = col.checked_add_signed(dc as isize).filter(|col| (1..=code.cols).contains(col))?;
                let row = row.checked_add_signed(dr as isize).filter(|row| (1..=code.rows).contains(row))?;
                Some(row * code.stride + col)
            });
            cells.filter(move |&cell| is_level_flat(cell, inlet)).map(move |cell| (cell, inlet))
        };
        self.backwater.inlets.iter().flat_map(beside).collect()
    }
}

/// Gives the cells of closed flats, now marked, their directions.
fn drain_closed(code: &mut Patch<u8>, buffers: &mut FlatBuffers) {
    let FlatBuffers { marked, open, inner, closed, toward, away, lowest, .. } = buffers;
    closed.set_to([&marked.low, open], |low, open| low & !open);
    shore::drain(closed, code);
    closed.set_to([&marked.flat, open], |flat, open| flat & !open);
    inner.set_to([closed, &marked.low], |closed, low| closed & !low);
    let masks = Masks { flat: &marked.flat, toward: &toward.digits, away: &away.digits };
    lowest.drain(&masks, inner, code);
}
