//! Flats of one tile.
//!
//! The rules are those of [`crate::textbook`]: a mask of integers, twice the steps to the low edge plus how much nearer to
//! higher ground a cell is than the flat's farthest one. A cell beside the low edge drains to it whatever its mask; only
//! flats with cells farther in are searched. A flat with no level neighbour in another tile is done at once. The others are
//! *open*: what the tile itself knows of them is kept, and they are resolved with the other tiles.

use std::collections::BTreeSet;
use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::deltas;
use super::open_flats::root;
use super::patch::Patch;
use super::shore::Shore;
use super::steps::{Run, Sources, Steps, UNREACHED, Whole};
use super::tiling::Ring;
use crate::flow::ON_FLAT;

/// Structures under backwater, both ends at one level, as one tile sees them; by position in its patch.
#[derive(Clone, Debug, Default)]
pub(crate) struct Backwater {
    /// Inlets in the tile or its margin.
    pub(crate) inlets: BTreeSet<usize>,
    /// Outlets in the tile.
    pub(crate) outlets: BTreeSet<usize>,
}

/// What a tile itself knows of its open flats, connected part by part; cells by position in its patch.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct OpenParts {
    pub parts: Vec<OpenPart>,
    #[serde(with = "deltas::of_runs")]
    pub runs: Vec<Run>,
    /// Cells beside a low edge, those along the tile's edge left out.
    #[serde(with = "deltas")]
    pub low: Vec<u32>,
    /// Cells beside higher ground.
    #[serde(with = "deltas")]
    pub high: Vec<u32>,
    pub ring: Vec<RingCell>,
    /// Cells beside a level inlet under backwater: the cell, the inlet, the part.
    pub inlets: Vec<(u32, u32, u32)>,
}

/// A cell of an open flat along the edge of its tile.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RingCell {
    pub cell: u32,
    /// The direction to a low edge beside the cell inside the tile; 0 where there is none.
    pub to_low_edge: u8,
    /// Which of its neighbours are level with it and lie in other tiles: a bit for each, in the order of
    /// [`fallwright_units::NEIGHBOURS`].
    pub level_beyond: u8,
}

/// One of them: where it ends in each list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct OpenPart {
    pub runs: u32,
    pub low: u32,
    pub high: u32,
    pub ring: u32,
    /// Whether some cell is not beside a low edge inside the tile.
    pub has_inner: bool,
}

impl OpenParts {
    pub(crate) fn runs_of(&self, part: usize) -> &[Run] {
        self.slice(&self.runs, part, |part| part.runs)
    }

    pub(crate) fn low_of(&self, part: usize) -> &[u32] {
        self.slice(&self.low, part, |part| part.low)
    }

    pub(crate) fn high_of(&self, part: usize) -> &[u32] {
        self.slice(&self.high, part, |part| part.high)
    }

    pub(crate) fn ring_of(&self, part: usize) -> &[RingCell] {
        self.slice(&self.ring, part, |part| part.ring)
    }

    fn slice<'a, T>(&'a self, all: &'a [T], part: usize, end: impl Fn(&OpenPart) -> u32) -> &'a [T] {
        let first = part.checked_sub(1).map_or(0, |before| end(&self.parts[before]));
        &all[first as usize..end(&self.parts[part]) as usize]
    }
}

/// A connected part of a flat inside one tile.
#[derive(Clone, Copy, Debug, Default)]
struct Part {
    is_open: bool,
    /// Whether some cell is not beside the low edge.
    has_inner: bool,
    /// Where its runs begin and end in [`FlatBuffers::order`].
    first: usize,
    end: usize,
}

#[derive(Debug, Default)]
pub(crate) struct FlatBuffers {
    shore: Shore,
    runs: Vec<Run>,
    /// By run, the part it is of.
    part_of: Vec<u32>,
    /// The runs part by part.
    order: Vec<Run>,
    parts: Vec<Part>,
    parent: Vec<usize>,
    pub(crate) steps: Steps,
}

/// A tile with everything that says where water goes from its flats.
pub(crate) struct Flats<'a> {
    pub(crate) surface: &'a Patch<f32>,
    pub(crate) backwater: &'a Backwater,
}

impl Flats<'_> {
    /// Gives the flat cells their directions where the tile itself decides them. Returns the open flats, and the cells of
    /// closed ones that no water can leave from.
    pub(crate) fn resolve_closed(&self, code: &mut Patch<u8>, buffers: &mut FlatBuffers) -> (OpenParts, Vec<usize>) {
        let mut undrained = Vec::new();
        if !code.values.contains(&ON_FLAT) {
            return (OpenParts::default(), undrained);
        }
        let in_tile = self.backwater.inlets.iter().copied().filter(|&inlet| is_inside(code, inlet));
        buffers.shore.find(self.surface, code, in_tile);
        self.find_parts(code, buffers);
        let open = self.open_parts(code, buffers);
        let FlatBuffers { shore, order, parts, steps, .. } = buffers;
        shore.drain(code);
        for ring in &open.ring {
            code.values[ring.cell as usize] = ON_FLAT;
        }
        for part in parts.iter().filter(|part| part.has_inner && !part.is_open) {
            resolve(&order[part.first..part.end], shore, code, steps, &mut undrained);
        }
        (open, undrained)
    }

    /// Finds the connected parts, as runs of cells. Two flat cells side by side are at one level, since neither is lower than
    /// the other.
    fn find_parts(&self, code: &Patch<u8>, buffers: &mut FlatBuffers) {
        let FlatBuffers { shore, runs, part_of, order, parts, parent, .. } = buffers;
        find_runs(code, runs, parent);
        parts.clear();
        part_of.clear();
        for (number, &run) in runs.iter().enumerate() {
            let first = root(parent, number);
            // The root of a set is its first run.
            if first == number {
                part_of.push(parts.len() as u32);
                parts.push(Part::default());
            } else {
                part_of.push(part_of[first]);
            }
            let part = &mut parts[part_of[number] as usize];
            part.end += 1;
            part.has_inner |= shore.has_inner(run.range());
            part.is_open |=
                along_edge(code, run).any(|cell| self.level_beyond(code, cell) != 0) || self.is_at_structure(run);
        }
        let mut begun = 0;
        for part in parts.iter_mut() {
            let runs = part.end;
            (part.first, part.end) = (begun, begun);
            begun += runs;
        }
        order.clear();
        order.resize(runs.len(), Run::default());
        for (&run, &part) in runs.iter().zip(part_of.iter()) {
            let part = &mut parts[part as usize];
            order[part.end] = run;
            part.end += 1;
        }
    }

    fn level_beyond(&self, code: &Patch<u8>, cell: usize) -> u8 {
        let level = self.surface.values[cell];
        let is_level_beyond = |next: usize| self.surface.values[next] == level && !is_inside(code, next);
        let around = self.surface.around(cell).into_iter().enumerate();
        around.map(|(position, next)| u8::from(is_level_beyond(next)) << position).sum()
    }

    fn level_neighbours(&self, cell: usize) -> impl Iterator<Item = usize> + '_ {
        let level = self.surface.values[cell];
        self.surface.around(cell).into_iter().filter(move |&next| self.surface.values[next] == level)
    }

    /// Flats that a structure under backwater leads to or from are resolved with all others that it leads to.
    fn is_at_structure(&self, run: Run) -> bool {
        let is_end = |cell: usize| self.backwater.outlets.contains(&cell) || self.level_inlets(cell).next().is_some();
        !self.has_no_backwater() && run.range().any(is_end)
    }

    fn has_no_backwater(&self) -> bool {
        self.backwater.inlets.is_empty() && self.backwater.outlets.is_empty()
    }

    fn level_inlets(&self, cell: usize) -> impl Iterator<Item = usize> + '_ {
        self.level_neighbours(cell).filter(|next| self.backwater.inlets.contains(next))
    }

    fn open_parts(&self, code: &Patch<u8>, buffers: &FlatBuffers) -> OpenParts {
        let FlatBuffers { shore, order, parts, .. } = buffers;
        let mut open = OpenParts::default();
        for part in parts.iter().filter(|part| part.is_open) {
            for &run in &order[part.first..part.end] {
                open.runs.push(run);
                for cell in run.range() {
                    self.note_open(code, shore, cell, &mut open);
                }
            }
            let [runs, low, high] = [open.runs.len(), open.low.len(), open.high.len()].map(|end| end as u32);
            open.parts.push(OpenPart { runs, low, high, ring: open.ring.len() as u32, has_inner: part.has_inner });
        }
        open
    }

    fn note_open(&self, code: &Patch<u8>, shore: &Shore, cell: usize, open: &mut OpenParts) {
        let place = cell as u32;
        let low = shore.to_low_edge(cell);
        if is_along_edge(code, cell) {
            let (to_low_edge, level_beyond) = (low.unwrap_or(0), self.level_beyond(code, cell));
            open.ring.push(RingCell { cell: place, to_low_edge, level_beyond });
        } else if low.is_some() {
            open.low.push(place);
        }
        if shore.is_beside_higher(cell) {
            open.high.push(place);
        }
        if !self.has_no_backwater() {
            let part = open.parts.len() as u32;
            open.inlets.extend(self.level_inlets(cell).map(|inlet| (place, inlet as u32, part)));
        }
    }
}

/// Gives the cells of a closed flat that are not beside its low edge their directions.
fn resolve(runs: &[Run], shore: &Shore, code: &mut Patch<u8>, steps: &mut Steps, undrained: &mut Vec<usize>) {
    steps.begin(code.cols, code.rows, runs);
    let cells = || runs.iter().flat_map(|run| run.range());
    let low = cells().filter(|&cell| shore.to_low_edge(cell).is_some()).map(|cell| cell as u32);
    steps.search_toward(Sources { nearest: low, later: &mut [] });
    let high = cells().filter(|&cell| shore.is_beside_higher(cell)).map(|cell| cell as u32);
    steps.search_away(Sources { nearest: high, later: &mut [] });
    undrained.extend(cells().filter(|&cell| steps.toward.values[cell] == UNREACHED));
    let farthest = runs.iter().map(|&run| steps.farthest(run)).max().unwrap_or(UNREACHED);
    for &run in runs {
        steps.mask(run, Whole { farthest, beside_inlet: false });
    }
    for cell in cells().filter(|&cell| shore.to_low_edge(cell).is_none()) {
        code.values[cell] = steps.lowest(cell).1;
    }
    steps.end(runs);
}

/// Whether a position lies in the tile and not in its margin.
fn is_inside<T>(patch: &Patch<T>, index: usize) -> bool {
    let (col, row) = (index % patch.stride, index / patch.stride);
    (1..=patch.cols).contains(&col) && (1..=patch.rows).contains(&row)
}

/// Whether a cell of the tile lies along its edge.
fn is_along_edge<T>(patch: &Patch<T>, cell: usize) -> bool {
    let (col, row) = (cell % patch.stride, cell / patch.stride);
    row == 1 || row == patch.rows || col == 1 || col == patch.cols
}

/// The cells of a run along the edge of its tile.
fn along_edge<T>(patch: &Patch<T>, run: Run) -> impl Iterator<Item = usize> {
    let Range { start, end } = run.range();
    let row = start / patch.stride;
    let whole = row == 1 || row == patch.rows;
    let west = (!whole && start % patch.stride == 1).then_some(start);
    let east =
        (!whole && (end - 1) % patch.stride == patch.cols && !(west.is_some() && end - start == 1)).then_some(end - 1);
    (if whole { start..end } else { 0..0 }).chain(west).chain(east)
}

/// Finds the runs of flat cells row by row, and which of them touch: in `parent` the first of those that do is their root.
fn find_runs(code: &Patch<u8>, runs: &mut Vec<Run>, parent: &mut Vec<usize>) {
    runs.clear();
    parent.clear();
    let stride = code.stride as u32;
    let mut bounds = vec![0; code.stride];
    let mut above = 0..0;
    for row in 0..code.rows {
        let begun = runs.len();
        for bounds in find_bounds(code, row, &mut bounds).chunks_exact(2) {
            let run = Run { start: bounds[0], end: bounds[1] };
            parent.push(runs.len());
            // Runs of the row above that lie at least partly above this one or touch it at a corner.
            while above.start < begun && runs[above.start].end + stride < run.start {
                above.start += 1;
            }
            let touching = runs[above.start..begun].iter().take_while(|other| other.start + stride <= run.end).count();
            for other in above.start..above.start + touching {
                let (a, b) = (root(parent, other), root(parent, runs.len()));
                parent[a.max(b)] = a.min(b);
            }
            runs.push(run);
        }
        above = begun..runs.len();
    }
}

/// Where the runs of flat cells in a row begin and end, by turns.
fn find_bounds<'a>(code: &Patch<u8>, row: usize, bounds: &'a mut [u32]) -> &'a [u32] {
    let (mut found, mut was_flat) = (0, false);
    // Every cell is noted, and written over if nothing begins or ends there: no branch that cannot be foreseen.
    let range = code.row(row);
    for cell in range.clone() {
        let is_flat = code.values[cell] == ON_FLAT;
        bounds[found] = cell as u32;
        found += usize::from(is_flat != was_flat);
        was_flat = is_flat;
    }
    bounds[found] = range.end as u32;
    &bounds[..found + usize::from(was_flat)]
}

/// Positions in the tile's patch of the cells along its edge.
pub(crate) fn ring_cells<T: Copy>(patch: &Patch<T>) -> impl Iterator<Item = usize> + '_ {
    Ring { cols: patch.cols, rows: patch.rows }.cells().map(|(col, row)| patch.at(col, row))
}
