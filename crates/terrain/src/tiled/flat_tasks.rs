//! What a tile does for the flats that reach into other tiles: its part of a round, and the directions at the end.

use std::borrow::Cow;
use std::collections::BTreeMap;

use fallwright_units::NEIGHBOURS;
use serde::{Deserialize, Serialize};

use super::bits::{Bits, PackedBits};
use super::flats::FlatBuffers;
use super::lowest::Masks;
use super::patch::Patch;
use super::shared_steps::{SharedSteps, one_more};
use super::shore::{self, is_flat};
use super::steps::{Asked, BESIDE_HIGHER, BESIDE_LOW_EDGE, UNREACHED};
use super::tiling::Ring;
use crate::direction;

/// One tile's part of a round: shorter ways to spread over its open flats.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FlatTask<'a> {
    /// Cells of open flats.
    pub(super) cells: Cow<'a, PackedBits>,
    /// The steps that are known so far.
    pub(super) known: SharedSteps,
    /// Steps of cells, fewer than known; cells by position in the patch.
    pub(super) shorter: Vec<(u32, usize)>,
}

impl FlatTask<'_> {
    /// The steps that are known once the shorter ways are.
    pub(crate) fn spread(self, buffers: &mut FlatBuffers) -> SharedSteps {
        let Self { cells: open, mut known, mut shorter } = self;
        let FlatBuffers { open: cells, asked, toward: steps, .. } = buffers;
        let edge = known.edge;
        cells.clear(edge.cols, edge.rows);
        open.unpack(cells);
        asked.clear_like(cells);
        for cell in edge.patch_cells().chain(known.watched.keys().copied()) {
            asked.insert(cell);
        }
        steps.begin(cells);
        steps.spread(UNREACHED, &mut shorter, known.asked(asked));
        known
    }
}

/// What a tile must know of the others to set the directions of its cells on open flats; cells by position in its patch.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FlatReply {
    /// Marks of the cells along the edge, and codes where they lie on no open flat.
    pub(super) ring: Vec<u8>,
    /// Flat cells around the tile.
    pub(super) margin: Vec<usize>,
    /// Those that are reached, with their steps, by search.
    pub(super) beyond: [Vec<(u32, usize)>; 3],
    /// Cells beside a level inlet under backwater: the cell and the inlet.
    pub(super) inlets: Vec<(usize, usize)>,
    /// Steps of inlets under backwater.
    pub(super) inlet_steps: BTreeMap<usize, u32>,
    /// Steps toward the low edge of cells beside structures under backwater.
    pub(super) watched: BTreeMap<usize, u32>,
}

impl FlatReply {
    /// Sets the directions of the cells that the first visit left with their marks.
    pub(crate) fn resolve(&self, edge: Ring, code: &mut Patch<u8>, buffers: &mut FlatBuffers) {
        for ((col, row), &mark) in edge.cells().zip(&self.ring).filter(|(_, mark)| is_flat(**mark)) {
            let cell = code.at(col, row);
            code.values[cell] = mark;
        }
        let FlatBuffers { marked, open: beside_inlet, inner, asked: none, toward, away, lowest, .. } = buffers;
        marked.read(code);
        inner.set_to([&marked.flat, &marked.low], |flat, low| flat & !low);
        none.clear_like(inner);
        let nobody = || Asked { cells: none, report: |_, _| {} };
        self.margin.iter().for_each(|&cell| marked.flat.insert(cell));
        let [mut beyond_toward, mut beyond_away, beyond_inlet] = self.beyond.clone();
        let steps_beside = |(cell, inlet): &(usize, usize)| Some((one_more(*self.inlet_steps.get(inlet)?), *cell));
        beyond_toward.extend(self.inlets.iter().filter_map(steps_beside));
        toward.begin(&marked.flat);
        for cell in self.inlets.iter().map(|inlet| inlet.0).chain(beyond_inlet.iter().map(|beyond| beyond.1)) {
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
        self.lead_to_inlets(inner, code);
    }

    /// Leads water from inner cells into inlets under backwater that are as near to the low edge as their nearest neighbours.
    fn lead_to_inlets(&self, inner: &Bits, code: &mut Patch<u8>) {
        for &(cell, inlet) in self.inlets.iter().filter(|inlet| inner.contains(inlet.0)) {
            let steps = self.watched[&cell];
            if self.inlet_steps.get(&inlet).is_some_and(|inlet| inlet + 1 == steps) {
                let to = direction_to(cell, inlet, code.stride);
                let beside = &mut code.values[cell];
                *beside = if *beside == direction::ENDS { to } else { to.min(*beside) };
            }
        }
    }
}

/// The direction code from a position of a patch to one beside it.
fn direction_to(from: usize, to: usize, stride: usize) -> u8 {
    let step = |(dc, dr): (i32, i32)| from.wrapping_add_signed(dr as isize * stride as isize + dc as isize);
    let position = NEIGHBOURS.into_iter().position(|neighbour| step(neighbour) == to);
    direction::of_neighbour(position.expect("the two are neighbours"))
}
