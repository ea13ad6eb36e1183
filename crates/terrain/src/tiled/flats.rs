//! Flats of one tile.
//!
//! The rules are those of [`crate::textbook`]: a mask of integers, twice the steps to the low edge plus how much nearer to
//! higher ground a cell is than the flat's farthest one. A flat that does not touch the tile's edge is done at once. The
//! others are *open*: their steps start from those that neighbouring tiles have found so far, and are found again
//! whenever those fall, until nothing changes.

use std::collections::{BTreeMap, BTreeSet};

use super::patch::Patch;
use super::tiling::Ring;
use crate::direction;
use crate::flow::ON_FLAT;

/// Not reached.
pub(crate) const UNREACHED: u32 = 0;

/// Structures under backwater, both ends at one level, as one tile sees them; by position in its patch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Backwater {
    /// Inlets in the tile or its margin with their steps to the low edge, as far as known.
    pub(crate) inlets: BTreeMap<usize, u32>,
    /// Outlets in the tile.
    pub(crate) outlets: BTreeSet<usize>,
}

/// A connected part of a flat inside one tile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Part {
    /// Most steps away from higher ground.
    pub(crate) farthest: u32,
    /// Whether a structure under backwater takes in water beside it, so that the gradient away from higher ground is left
    /// out.
    pub(crate) beside_inlet: bool,
    pub(crate) is_open: bool,
    /// Where its cells begin and end in [`FlatBuffers::cells`].
    first: usize,
    end: usize,
}

#[derive(Debug, Default)]
pub(crate) struct FlatBuffers {
    /// The part of each flat cell, counted from 1; 0 for other cells, [`MARGIN`] in the margin.
    part: Patch<u32>,
    /// Steps; in the margin those of the neighbouring tiles.
    pub(crate) toward: Patch<u32>,
    pub(crate) away: Patch<u32>,
    cells: Vec<usize>,
    pub(crate) parts: Vec<Part>,
    low: Vec<(u32, usize)>,
    high: Vec<(u32, usize)>,
    queue: Vec<usize>,
}

const MARGIN: u32 = u32::MAX;

/// A tile with everything that says where water goes from its flats.
pub(crate) struct Flats<'a> {
    pub(crate) surface: &'a Patch<f32>,
    pub(crate) backwater: &'a Backwater,
}

impl Flats<'_> {
    /// Gives the flats that do not touch the tile's edge their directions. Returns the cells of such flats that no water
    /// can leave from.
    pub(crate) fn resolve_closed(&self, code: &mut Patch<u8>, buffers: &mut FlatBuffers) -> Vec<usize> {
        if !self.find_parts(code, buffers) {
            return Vec::new();
        }
        let mut undrained = Vec::new();
        for position in 0..buffers.parts.len() {
            let part = buffers.parts[position];
            if part.is_open {
                continue;
            }
            self.find_sources(code, buffers, part.first..part.end);
            spread(&mut buffers.low, &mut buffers.toward, &buffers.part, &mut buffers.queue);
            let cells = part.first..part.end;
            // Beside the low edge the mask is not needed.
            if buffers.cells[cells.clone()].iter().any(|&cell| buffers.toward.values[cell] != BESIDE_LOW_EDGE) {
                spread(&mut buffers.high, &mut buffers.away, &buffers.part, &mut buffers.queue);
            }
            let away = &buffers.away.values;
            let farthest = buffers.cells[cells.clone()].iter().map(|&cell| away[cell]).max().unwrap_or(0);
            for &cell in &buffers.cells[cells] {
                if buffers.toward.values[cell] == UNREACHED {
                    undrained.push(cell);
                }
                code.values[cell] = self.choose(code, buffers, Part { farthest, ..part }, cell);
            }
        }
        undrained
    }

    /// Finds the steps of all open flats from what the margin holds. The codes of closed flats are no longer [`ON_FLAT`].
    pub(crate) fn step(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        self.find_parts_with_margin(code, buffers);
        self.find_sources(code, buffers, 0..buffers.cells.len());
        spread(&mut buffers.low, &mut buffers.toward, &buffers.part, &mut buffers.queue);
        spread(&mut buffers.high, &mut buffers.away, &buffers.part, &mut buffers.queue);
        for part in &mut buffers.parts {
            let cells = &buffers.cells[part.first..part.end];
            part.farthest = cells.iter().map(|&cell| buffers.away.values[cell]).max().unwrap_or(0);
        }
    }

    /// Gives open flats their directions, after [`Self::step`]; `parts` says what holds for the whole of each flat.
    pub(crate) fn resolve_open(&self, code: &mut Patch<u8>, buffers: &FlatBuffers, parts: &[Part]) {
        for part in parts {
            for &cell in &buffers.cells[part.first..part.end] {
                code.values[cell] = self.choose(code, buffers, *part, cell);
            }
        }
    }

    fn find_parts_with_margin(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        for row in 0..code.rows {
            let range = code.row(row);
            buffers.toward.values[range.clone()].fill(UNREACHED);
            buffers.away.values[range].fill(UNREACHED);
        }
        self.find_connected(code, buffers);
    }

    /// Returns whether there are any.
    fn find_parts(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) -> bool {
        if !code.values.contains(&ON_FLAT) {
            return false;
        }
        buffers.toward.reset(code.cols, code.rows, UNREACHED);
        buffers.away.reset(code.cols, code.rows, UNREACHED);
        self.find_connected(code, buffers);
        true
    }

    fn find_connected(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        let FlatBuffers { part, cells, parts, .. } = buffers;
        part.reset(code.cols, code.rows, MARGIN);
        for row in 0..code.rows {
            let range = part.row(row);
            part.values[range].fill(0);
        }
        cells.clear();
        parts.clear();
        let offsets = code.offsets();
        for start in code.cells() {
            if code.values[start] != ON_FLAT || part.values[start] != 0 {
                continue;
            }
            let number = parts.len() as u32 + 1;
            let mut found = Part { first: cells.len(), ..Part::default() };
            part.values[start] = number;
            cells.push(start);
            let mut next_unvisited = found.first;
            while let Some(&cell) = cells.get(next_unvisited) {
                next_unvisited += 1;
                let level = self.surface.values[cell];
                for offset in offsets {
                    let next = cell.wrapping_add_signed(offset);
                    if part.values[next] == MARGIN {
                        found.is_open = true;
                    } else if code.values[next] == ON_FLAT
                        && part.values[next] == 0
                        && self.surface.values[next] == level
                    {
                        part.values[next] = number;
                        cells.push(next);
                    }
                }
            }
            found.end = cells.len();
            self.note_backwater(&cells[found.first..], &mut found);
            parts.push(found);
        }
    }

    fn note_backwater(&self, cells: &[usize], part: &mut Part) {
        if self.backwater.inlets.is_empty() && self.backwater.outlets.is_empty() {
            return;
        }
        for &cell in cells {
            part.is_open |= self.backwater.outlets.contains(&cell);
            part.beside_inlet |= self.level_neighbours(cell).any(|(_, next)| self.backwater.inlets.contains_key(&next));
        }
        part.is_open |= part.beside_inlet;
    }

    fn level_neighbours(&self, cell: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let level = self.surface.values[cell];
        let beside = self.surface.around(cell).into_iter().enumerate();
        beside.filter(move |&(_, next)| self.surface.values[next] == level)
    }

    /// From where steps start: cells beside the low edge, beside higher ground, beside a structure under backwater, and
    /// beside flats of other tiles.
    fn find_sources(&self, code: &Patch<u8>, buffers: &mut FlatBuffers, cells: std::ops::Range<usize>) {
        let FlatBuffers { part, toward, away, low, high, .. } = buffers;
        low.clear();
        high.clear();
        let offsets = code.offsets();
        for &cell in &buffers.cells[cells] {
            let level = self.surface.values[cell];
            let (mut nearest, mut is_beside_higher) = (UNREACHED, false);
            let mut margin_away = UNREACHED;
            let nearer = |known: u32, steps: u32| if known == UNREACHED { steps } else { known.min(steps) };
            for offset in offsets {
                let next = cell.wrapping_add_signed(offset);
                let z = self.surface.values[next];
                is_beside_higher |= z > level;
                if z != level || part.values[next] == part.values[cell] {
                    continue;
                }
                match self.steps_of(code, toward, next) {
                    UNREACHED => {}
                    steps => nearest = nearer(nearest, steps + 1),
                }
                if code.values[next] == ON_FLAT && away.values[next] != UNREACHED {
                    margin_away = nearer(margin_away, away.values[next] + 1);
                }
            }
            if nearest != UNREACHED {
                low.push((nearest, cell));
            }
            if is_beside_higher {
                high.push((1, cell));
            } else if margin_away != UNREACHED {
                high.push((margin_away, cell));
            }
        }
    }

    /// Steps to the low edge of a cell that is not of the same part: 1 on the low edge itself.
    fn steps_of(&self, code: &Patch<u8>, toward: &Patch<u32>, cell: usize) -> u32 {
        match code.values[cell] {
            direction::NODATA => UNREACHED,
            direction::CARRIED => self.backwater.inlets.get(&cell).copied().unwrap_or(LOW_EDGE),
            ON_FLAT => toward.values[cell],
            _ => LOW_EDGE,
        }
    }

    /// The direction of the level neighbour with the smallest mask; ties go to the lowest code.
    fn choose(&self, code: &Patch<u8>, buffers: &FlatBuffers, whole: Part, cell: usize) -> u8 {
        let mut best = (u32::MAX, direction::ENDS);
        for (position, next) in self.level_neighbours(cell) {
            let toward = if buffers.part.values[next] == buffers.part.values[cell] {
                buffers.toward.values[next]
            } else {
                self.steps_of(code, &buffers.toward, next)
            };
            let is_flat = buffers.part.values[next] == buffers.part.values[cell] || code.values[next] == ON_FLAT;
            let nearer_to_higher =
                if is_flat && !whole.beside_inlet { whole.farthest - buffers.away.values[next] } else { 0 };
            let mask = 2 * toward + nearer_to_higher;
            if mask != UNREACHED && mask < best.0 {
                best = (mask, direction::of_neighbour(position));
            }
            // No mask of a flat cell is as small as that of the low edge.
            if toward == LOW_EDGE && !is_flat {
                break;
            }
        }
        best.1
    }
}

/// Steps on the low edge itself, and of a flat cell beside it.
const LOW_EDGE: u32 = 1;
const BESIDE_LOW_EDGE: u32 = 2;

/// Steps from the sources over the cells of each part, breadth first.
fn spread(sources: &mut [(u32, usize)], steps: &mut Patch<u32>, part: &Patch<u32>, queue: &mut Vec<usize>) {
    sources.sort_unstable();
    queue.clear();
    let offsets = steps.offsets();
    let (mut next_source, mut next_queued) = (0, 0);
    loop {
        let queued = queue.get(next_queued).copied();
        let source = sources.get(next_source).copied();
        let cell = match (source, queued) {
            (None, None) => break,
            (Some((count, cell)), queued) if queued.is_none_or(|queued| count <= steps.values[queued]) => {
                next_source += 1;
                let known = steps.values[cell];
                if known != UNREACHED && known <= count {
                    continue;
                }
                steps.values[cell] = count;
                cell
            }
            (_, queued) => {
                next_queued += 1;
                queued.expect("a source goes first only where nothing nearer is queued")
            }
        };
        for offset in offsets {
            let next = cell.wrapping_add_signed(offset);
            if part.values[next] == part.values[cell] && steps.values[next] == UNREACHED {
                steps.values[next] = steps.values[cell] + 1;
                queue.push(next);
            }
        }
    }
}

/// Positions in the tile's patch of the cells along its edge.
pub(crate) fn ring_cells<T: Copy>(patch: &Patch<T>) -> impl Iterator<Item = usize> + '_ {
    Ring { cols: patch.cols, rows: patch.rows }.cells().map(|(col, row)| patch.at(col, row))
}

impl FlatBuffers {
    /// The part of a cell, counted from 1; 0 where it lies on no open flat.
    pub(crate) fn part_of(&self, cell: usize) -> u32 {
        self.part.values[cell]
    }
}
