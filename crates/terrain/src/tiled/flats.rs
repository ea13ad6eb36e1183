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
/// What the steps of cells hold that are on no open or unresolved flat of the tile.
const WALL: u32 = u32::MAX;

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
    /// The same in [`FlatBuffers::shore`].
    first_shore: usize,
    end_shore: usize,
}

#[derive(Debug, Default)]
pub(crate) struct FlatBuffers {
    /// The part of each flat cell, counted from 1; [`NO_PART`] for other cells, [`MARGIN`] in the margin.
    part: Patch<u32>,
    /// Steps, [`UNREACHED`] or [`WALL`]; in the margin those of the neighbouring tiles.
    toward: Patch<u32>,
    away: Patch<u32>,
    cells: Vec<usize>,
    /// Cells with a neighbour that is not of their part.
    shore: Vec<usize>,
    pub(crate) parts: Vec<Part>,
    low: Vec<(u32, usize)>,
    high: Vec<(u32, usize)>,
    queue: Vec<usize>,
}

const NO_PART: u32 = 0;
const MARGIN: u32 = u32::MAX;
const UNSEEN: u32 = u32::MAX - 1;

/// A tile with everything that says where water goes from its flats.
pub(crate) struct Flats<'a> {
    pub(crate) surface: &'a Patch<f32>,
    pub(crate) backwater: &'a Backwater,
}

impl Flats<'_> {
    /// Gives the flats that do not touch the tile's edge their directions. Returns the cells of such flats that no water
    /// can leave from.
    pub(crate) fn resolve_closed(&self, code: &mut Patch<u8>, buffers: &mut FlatBuffers) -> Vec<usize> {
        let mut undrained = Vec::new();
        if !code.values.contains(&ON_FLAT) {
            return undrained;
        }
        buffers.toward.reset(code.cols, code.rows, WALL);
        buffers.away.reset(code.cols, code.rows, WALL);
        self.find_parts(code, buffers);
        for position in 0..buffers.parts.len() {
            let part = buffers.parts[position];
            if part.is_open {
                continue;
            }
            let cells = part.first..part.end;
            self.find_sources(code, buffers, part.first_shore..part.end_shore);
            spread(&mut buffers.low, &mut buffers.toward, &mut buffers.queue);
            // Beside the low edge the mask is not needed.
            if buffers.cells[cells.clone()].iter().any(|&cell| buffers.toward.values[cell] != BESIDE_LOW_EDGE) {
                spread(&mut buffers.high, &mut buffers.away, &mut buffers.queue);
            }
            let away = &buffers.away.values;
            let farthest = buffers.cells[cells.clone()].iter().map(|&cell| away[cell]).max().unwrap_or(0);
            buffers.mask(cells.clone(), Part { farthest, ..part });
            for &cell in &buffers.cells[cells] {
                if buffers.toward.values[cell] == UNREACHED {
                    undrained.push(cell);
                }
                code.values[cell] = self.choose(code, buffers, part, cell);
            }
        }
        undrained
    }

    /// Finds the steps of all open flats from those that `beyond` gives for cells in the margin, toward the low edge and
    /// away from higher ground. The codes of closed flats are no longer [`ON_FLAT`].
    pub(crate) fn step(&self, code: &Patch<u8>, buffers: &mut FlatBuffers, beyond: &[(usize, u32, u32)]) {
        buffers.toward.reset(code.cols, code.rows, WALL);
        buffers.away.reset(code.cols, code.rows, WALL);
        self.find_parts(code, buffers);
        for &(index, toward, away) in beyond {
            // What is not reached yet is nothing to step from, and nothing to step to.
            buffers.toward.values[index] = if toward == UNREACHED { WALL } else { toward };
            buffers.away.values[index] = if away == UNREACHED { WALL } else { away };
        }
        self.find_sources(code, buffers, 0..buffers.shore.len());
        spread(&mut buffers.low, &mut buffers.toward, &mut buffers.queue);
        spread(&mut buffers.high, &mut buffers.away, &mut buffers.queue);
        for part in &mut buffers.parts {
            let cells = &buffers.cells[part.first..part.end];
            part.farthest = cells.iter().map(|&cell| buffers.away.values[cell]).max().unwrap_or(0);
        }
    }

    /// Gives open flats their directions, after [`Self::step`]; `parts` says what holds for the whole of each flat.
    pub(crate) fn resolve_open(
        &self,
        code: &mut Patch<u8>,
        buffers: &mut FlatBuffers,
        parts: &[Part],
        beyond: &[(usize, u32, u32)],
    ) {
        for part in parts {
            buffers.mask(part.first..part.end, *part);
        }
        for &(index, toward, away) in beyond {
            // The margin's cells are of the part that they touch.
            let mut around = code.around(index).into_iter().filter(|&next| next < buffers.part.values.len());
            let number = around
                .find_map(|next| buffers.part.values[next].checked_sub(1).filter(|&n| (n as usize) < parts.len()));
            if let Some(number) = number {
                buffers.away.values[index] = mask_of(toward, away, parts[number as usize]);
            }
        }
        for part in parts {
            for &cell in &buffers.cells[part.first..part.end] {
                code.values[cell] = self.choose(code, buffers, *part, cell);
            }
        }
    }

    /// Finds the connected parts. Two flat cells side by side are at one level, since neither is lower than the other.
    fn find_parts(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        let FlatBuffers { part, toward, away, cells, shore, parts, .. } = buffers;
        part.reset(code.cols, code.rows, MARGIN);
        for row in 0..code.rows {
            let range = part.row(row);
            for (part, &code) in part.values[range.clone()].iter_mut().zip(&code.values[range]) {
                *part = if code == ON_FLAT { UNSEEN } else { NO_PART };
            }
        }
        cells.clear();
        shore.clear();
        parts.clear();
        let offsets = code.offsets();
        let (toward, away) = (&mut toward.values[..], &mut away.values[..]);
        for start in code.cells() {
            if part.values[start] != UNSEEN {
                continue;
            }
            let number = parts.len() as u32 + 1;
            let mut found = Part { first: cells.len(), first_shore: shore.len(), ..Part::default() };
            part.values[start] = number;
            cells.push(start);
            let of = &mut part.values[..];
            let mut next_unvisited = found.first;
            while let Some(&cell) = cells.get(next_unvisited) {
                next_unvisited += 1;
                toward[cell] = UNREACHED;
                away[cell] = UNREACHED;
                let mut is_shore = false;
                for offset in offsets {
                    let next = cell.wrapping_add_signed(offset);
                    match of[next] {
                        UNSEEN => {
                            of[next] = number;
                            cells.push(next);
                        }
                        other => {
                            is_shore |= other != number;
                            found.is_open |= other == MARGIN;
                        }
                    }
                }
                if is_shore {
                    shore.push(cell);
                }
            }
            (found.end, found.end_shore) = (cells.len(), shore.len());
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
    fn find_sources(&self, code: &Patch<u8>, buffers: &mut FlatBuffers, shore: std::ops::Range<usize>) {
        let FlatBuffers { part, toward, away, low, high, .. } = buffers;
        low.clear();
        high.clear();
        let offsets = code.offsets();
        for &cell in &buffers.shore[shore] {
            let mine = part.values[cell];
            let level = self.surface.values[cell];
            // WALL where there are none, which is more than any steps.
            let (mut nearest, mut from_higher) = (WALL, WALL);
            for offset in offsets {
                let next = cell.wrapping_add_signed(offset);
                let z = self.surface.values[next];
                if z > level {
                    from_higher = 1;
                } else if z == level && part.values[next] != mine {
                    nearest = nearest.min(self.steps_of(code, toward, next).saturating_add(1));
                    if code.values[next] == ON_FLAT {
                        from_higher = from_higher.min(away.values[next].saturating_add(1));
                    }
                }
            }
            if nearest != WALL {
                low.push((nearest, cell));
            }
            if from_higher != WALL {
                high.push((from_higher, cell));
            }
        }
    }

    /// Steps to the low edge of a level cell that is not of the tile's flats: 1 on the low edge itself; [`WALL`] where not
    /// reached.
    fn steps_of(&self, code: &Patch<u8>, toward: &Patch<u32>, cell: usize) -> u32 {
        match code.values[cell] {
            direction::NODATA => WALL,
            direction::CARRIED => match self.backwater.inlets.get(&cell) {
                None => LOW_EDGE,
                Some(&UNREACHED) => WALL,
                Some(&steps) => steps,
            },
            ON_FLAT => toward.values[cell],
            _ => LOW_EDGE,
        }
    }

    /// The direction of the level neighbour with the smallest mask; ties go to the lowest code.
    fn choose(&self, code: &Patch<u8>, buffers: &FlatBuffers, whole: Part, cell: usize) -> u8 {
        let FlatBuffers { part, toward, away, .. } = buffers;
        // The masks by now.
        let level = self.surface.values[cell];
        let around = self.surface.around(cell);
        // No mask of a flat cell is as small as that of the low edge.
        if toward.values[cell] == BESIDE_LOW_EDGE {
            let is_low_edge = |&next: &usize| {
                self.surface.values[next] == level
                    && part.values[next] != part.values[cell]
                    && code.values[next] != ON_FLAT
                    && self.steps_of(code, toward, next) == LOW_EDGE
            };
            if let Some(position) = around.iter().position(is_low_edge) {
                return direction::of_neighbour(position);
            }
        }
        let mut best = (u32::MAX, direction::ENDS);
        for (position, next) in around.into_iter().enumerate() {
            let mut mask = away.values[next];
            if whole.beside_inlet && code.values[next] == direction::CARRIED {
                let is_level = self.surface.values[next] == level;
                mask = 2 * self.backwater.inlets.get(&next).copied().filter(|_| is_level).unwrap_or(UNREACHED);
            }
            if mask != UNREACHED && mask < best.0 {
                best = (mask, direction::of_neighbour(position));
            }
        }
        best.1
    }
}

impl FlatBuffers {
    /// Puts the masks of some cells in the place of their steps away from higher ground.
    fn mask(&mut self, cells: std::ops::Range<usize>, whole: Part) {
        for &cell in &self.cells[cells] {
            self.away.values[cell] = mask_of(self.toward.values[cell], self.away.values[cell], whole);
        }
    }
}

fn mask_of(toward: u32, away: u32, whole: Part) -> u32 {
    2 * toward + if whole.beside_inlet { 0 } else { whole.farthest - away }
}

/// Steps, none where they are not known.
fn steps(known: u32) -> u32 {
    if known == WALL { UNREACHED } else { known }
}

/// Steps on the low edge itself, and of a flat cell beside it.
const LOW_EDGE: u32 = 1;
const BESIDE_LOW_EDGE: u32 = 2;

/// Steps from the sources over the cells of their flats, breadth first. Flats do not touch each other.
fn spread(sources: &mut [(u32, usize)], steps: &mut Patch<u32>, queue: &mut Vec<usize>) {
    sources.sort_unstable();
    queue.clear();
    let offsets = steps.offsets();
    let steps = &mut steps.values[..];
    let mut sources = sources.iter().peekable();
    let mut next_queued = 0;
    loop {
        let queued = queue.get(next_queued).map(|&cell| (steps[cell], cell));
        let earlier = |source: &&(u32, usize)| queued.is_none_or(|(count, _)| source.0 <= count);
        let cell = if let Some(&(count, cell)) = sources.next_if(earlier) {
            if steps[cell] != UNREACHED && steps[cell] <= count {
                continue;
            }
            steps[cell] = count;
            cell
        } else if let Some((_, cell)) = queued {
            next_queued += 1;
            cell
        } else {
            break;
        };
        let count = steps[cell] + 1;
        for offset in offsets {
            let next = cell.wrapping_add_signed(offset);
            if steps[next] == UNREACHED {
                steps[next] = count;
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
    /// Steps of a flat cell toward the low edge and away from higher ground; [`UNREACHED`] off the flats.
    pub(crate) fn steps_of(&self, cell: usize) -> (u32, u32) {
        (steps(self.toward.values[cell]), steps(self.away.values[cell]))
    }

    pub(crate) fn part_of(&self, cell: usize) -> u32 {
        self.part.values[cell]
    }
}
