//! Flats of one tile.
//!
//! The rules are those of [`crate::textbook`]: a mask of integers, twice the steps to the low edge plus how much nearer to
//! higher ground a cell is than the flat's farthest one. A flat that does not touch the tile's edge is done at once. The
//! others are *open*: their steps start from those that neighbouring tiles have found so far, and are found again
//! whenever those fall, until nothing changes.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::open_flats::root;
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
    is_open: bool,
    /// Where its runs begin and end in [`FlatBuffers::order`].
    first: usize,
    end: usize,
}

/// Flat cells side by side in one row: positions in the patch.
#[derive(Clone, Copy, Debug)]
struct Run {
    start: usize,
    end: usize,
    /// Position in [`FlatBuffers::parts`].
    part: u32,
}

#[derive(Debug, Default)]
pub(crate) struct FlatBuffers {
    /// Steps, [`UNREACHED`] or [`WALL`]; in the margin those of the neighbouring tiles. Once flats are resolved `away` holds
    /// their masks.
    toward: Patch<u32>,
    away: Patch<u32>,
    runs: Vec<Run>,
    /// The runs part by part.
    order: Vec<Run>,
    pub(crate) parts: Vec<Part>,
    parent: Vec<usize>,
    shore: Vec<usize>,
    low: Vec<(u32, usize)>,
    high: Vec<(u32, usize)>,
    queue: Vec<usize>,
}

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
            self.find_sources(code, buffers, part.first..part.end);
            spread(&mut buffers.low, &mut buffers.toward, &mut buffers.queue);
            // Beside the low edge the mask is not needed.
            if buffers.cells(part).any(|cell| buffers.toward.values[cell] != BESIDE_LOW_EDGE) {
                spread(&mut buffers.high, &mut buffers.away, &mut buffers.queue);
            }
            undrained.extend(buffers.cells(part).filter(|&cell| buffers.toward.values[cell] == UNREACHED));
            let part = Part { farthest: buffers.farthest(part), ..part };
            buffers.mask(part);
            for cell in buffers.cells(part) {
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
        self.find_sources(code, buffers, 0..buffers.order.len());
        spread(&mut buffers.low, &mut buffers.toward, &mut buffers.queue);
        spread(&mut buffers.high, &mut buffers.away, &mut buffers.queue);
        for position in 0..buffers.parts.len() {
            buffers.parts[position].farthest = buffers.farthest(buffers.parts[position]);
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
        let part_of_ring: BTreeMap<usize, u32> = buffers.ring_parts(code).collect();
        for part in parts {
            buffers.mask(*part);
        }
        for &(index, toward, away) in beyond {
            // The margin's cells are of the flat that they touch.
            let mut around = code.offsets().into_iter().map(|offset| index.wrapping_add_signed(offset));
            if let Some(&part) = around.find_map(|next| part_of_ring.get(&next)) {
                buffers.away.values[index] = mask_of(toward, away, parts[part as usize]);
            }
        }
        for part in parts {
            for cell in buffers.cells(*part) {
                code.values[cell] = self.choose(code, buffers, *part, cell);
            }
        }
    }

    /// Finds the connected parts, as runs of cells. Two flat cells side by side are at one level, since neither is lower than
    /// the other.
    fn find_parts(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        let FlatBuffers { toward, away, runs, order, parts, parent, .. } = buffers;
        find_runs(code, runs, parent);
        for run in runs.iter() {
            toward.values[run.start..run.end].fill(UNREACHED);
            away.values[run.start..run.end].fill(UNREACHED);
        }
        parts.clear();
        for number in 0..runs.len() {
            let first = root(parent, number);
            // The root of a set is its first run.
            if first == number {
                runs[number].part = parts.len() as u32;
                parts.push(Part::default());
            } else {
                runs[number].part = runs[first].part;
            }
            let part = &mut parts[runs[number].part as usize];
            part.end += 1;
            part.is_open |= touches_edge(code, runs[number]);
        }
        let mut begun = 0;
        for part in parts.iter_mut() {
            let runs = part.end;
            (part.first, part.end) = (begun, begun);
            begun += runs;
        }
        order.clear();
        order.resize(runs.len(), Run { start: 0, end: 0, part: 0 });
        for &run in runs.iter() {
            let part = &mut parts[run.part as usize];
            order[part.end] = run;
            part.end += 1;
        }
        self.note_backwater(buffers);
    }

    fn note_backwater(&self, buffers: &mut FlatBuffers) {
        if self.backwater.inlets.is_empty() && self.backwater.outlets.is_empty() {
            return;
        }
        for position in 0..buffers.parts.len() {
            let mut part = buffers.parts[position];
            for cell in buffers.cells(part) {
                part.is_open |= self.backwater.outlets.contains(&cell);
                part.beside_inlet |=
                    self.level_neighbours(cell).any(|(_, next)| self.backwater.inlets.contains_key(&next));
            }
            part.is_open |= part.beside_inlet;
            buffers.parts[position] = part;
        }
    }

    fn level_neighbours(&self, cell: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let level = self.surface.values[cell];
        let beside = self.surface.around(cell).into_iter().enumerate();
        beside.filter(move |&(_, next)| self.surface.values[next] == level)
    }

    /// From where steps start: cells beside the low edge, beside higher ground, beside a structure under backwater, and
    /// beside flats of other tiles.
    fn find_sources(&self, code: &Patch<u8>, buffers: &mut FlatBuffers, runs: Range<usize>) {
        let FlatBuffers { toward, away, order, shore, low, high, .. } = buffers;
        low.clear();
        high.clear();
        let offsets = code.offsets();
        let levels = &self.surface.values[..];
        for run in &order[runs] {
            let level = levels[run.start];
            find_shore(code, *run, shore);
            for &cell in shore.iter() {
                // WALL where there are none, which is more than any steps.
                let (mut nearest, mut from_higher) = (WALL, WALL);
                for offset in offsets {
                    let next = cell.wrapping_add_signed(offset);
                    if levels[next] > level {
                        from_higher = 1;
                    } else if levels[next] == level {
                        // Flat cells of the tile itself are not reached yet.
                        nearest = nearest.min(self.steps_of(code, toward, next).saturating_add(1));
                        if code.values[next] == ON_FLAT && away.values[next] != UNREACHED {
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
            ON_FLAT if toward.values[cell] == UNREACHED => WALL,
            ON_FLAT => toward.values[cell],
            _ => LOW_EDGE,
        }
    }

    /// The direction of the level neighbour with the smallest mask; ties go to the lowest code.
    fn choose(&self, code: &Patch<u8>, buffers: &FlatBuffers, whole: Part, cell: usize) -> u8 {
        // The masks by now.
        let FlatBuffers { toward, away: mask, .. } = buffers;
        let level = self.surface.values[cell];
        let around = self.surface.around(cell);
        // No mask of a flat cell is as small as that of the low edge.
        if toward.values[cell] == BESIDE_LOW_EDGE {
            let is_low_edge = |&next: &usize| {
                self.surface.values[next] == level
                    && mask.values[next] == WALL
                    && self.steps_of(code, toward, next) == LOW_EDGE
            };
            if let Some(position) = around.iter().position(is_low_edge) {
                return direction::of_neighbour(position);
            }
        }
        let mut best = (u32::MAX, direction::ENDS);
        for (position, next) in around.into_iter().enumerate() {
            let mut mask = mask.values[next];
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
    /// The cells of a part, run by run.
    fn cells(&self, part: Part) -> impl Iterator<Item = usize> + '_ {
        self.order[part.first..part.end].iter().flat_map(|run| run.start..run.end)
    }

    fn farthest(&self, part: Part) -> u32 {
        self.cells(part).map(|cell| self.away.values[cell]).max().unwrap_or(UNREACHED)
    }

    /// Puts the masks of a part's cells in the place of their steps away from higher ground.
    fn mask(&mut self, whole: Part) {
        for run in &self.order[whole.first..whole.end] {
            for cell in run.start..run.end {
                self.away.values[cell] = mask_of(self.toward.values[cell], self.away.values[cell], whole);
            }
        }
    }

    /// Steps of a flat cell toward the low edge and away from higher ground; [`UNREACHED`] off the flats.
    pub(crate) fn steps_of(&self, cell: usize) -> (u32, u32) {
        (steps(self.toward.values[cell]), steps(self.away.values[cell]))
    }

    /// The flat cells along the tile's edge, each with its part.
    pub(crate) fn ring_parts<'a>(&'a self, code: &'a Patch<u8>) -> impl Iterator<Item = (usize, u32)> + 'a {
        let at_edge = self.runs.iter().filter(|&&run| touches_edge(code, run));
        at_edge.flat_map(|run| (run.start..run.end).map(|cell| (cell, run.part)))
    }
}

/// Whether a run touches the edge of its tile.
fn touches_edge(code: &Patch<u8>, run: Run) -> bool {
    let row = run.start / code.stride;
    row == 1 || row == code.rows || run.start % code.stride == 1 || run.end % code.stride == code.stride - 1
}

/// The cells of a run that have a neighbour off the tile's flats.
fn find_shore(code: &Patch<u8>, run: Run, shore: &mut Vec<usize>) {
    shore.clear();
    let (row, stride) = (run.start / code.stride, code.stride);
    if row == 1 || row == code.rows {
        shore.extend(run.start..run.end);
        return;
    }
    let line = |start: usize| &code.values[start - 1..][..run.end - run.start + 2];
    let column = line(run.start - stride).iter().zip(line(run.start)).zip(line(run.start + stride));
    let mut is_flat = column.map(|((above, here), below)| *above == ON_FLAT && *here == ON_FLAT && *below == ON_FLAT);
    // A column beyond the tile's west or east edge is off its flats.
    let at_west = run.start % stride == 1;
    let at_east = run.end % stride == stride - 1;
    let mut before = is_flat.next().is_some_and(|flat| flat && !at_west);
    let mut here = is_flat.next().unwrap_or(false);
    for (cell, after) in (run.start..run.end).zip(is_flat) {
        if !(before && here && after) || (at_east && cell + 1 == run.end) {
            shore.push(cell);
        }
        (before, here) = (here, after);
    }
}

/// Finds the runs of flat cells row by row, and which of them touch: in `parent` the first of those that do is their root.
fn find_runs(code: &Patch<u8>, runs: &mut Vec<Run>, parent: &mut Vec<usize>) {
    runs.clear();
    parent.clear();
    let mut above = 0..0;
    for row in 0..code.rows {
        let begun = runs.len();
        let Range { start: first, end } = code.row(row);
        let mut cell = first;
        while let Some(start) = code.values[cell..end].iter().position(|&code| code == ON_FLAT).map(|at| cell + at) {
            let length = code.values[start..end].iter().take_while(|&&code| code == ON_FLAT).count();
            cell = start + length;
            parent.push(runs.len());
            // Runs of the row above that lie at least partly above this one or touch it at a corner.
            while above.start < begun && runs[above.start].end + code.stride < start {
                above.start += 1;
            }
            let touching = runs[above.start..begun].iter().take_while(|run| run.start + code.stride <= cell).count();
            for other in above.start..above.start + touching {
                let (a, b) = (root(parent, other), root(parent, runs.len()));
                parent[a.max(b)] = a.min(b);
            }
            runs.push(Run { start, end: cell, part: 0 });
        }
        above = begun..runs.len();
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
