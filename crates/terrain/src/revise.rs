//! What changes on a conditioned surface where some cuts are not made, or one more depression is kept.
//!
//! Only the part of the raster that can change is conditioned anew; the answer is the same to the cell as conditioning
//! everything again.
//!
//! It is the only place besides tests and benches that uses [`crate::textbook`], which gives the engine's answers to the last
//! bit: the windows are small and many, one for each cut or fill that is left out, and the engine's buffers for whole tiles
//! would take more time than the work.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::convert::Infallible;
use std::ops::RangeInclusive;

use fallwright_units::{Cell, Frame, Raster};
use foldhash::fast::FixedState;

use crate::channel_course::Directed;
use crate::condition::Conditioned;
use crate::link::{Link, Links};
use crate::revision_base::RevisionBase;
use crate::surface::is_outlet;
use crate::textbook::{fill, flow_along_channels};

/// Cells whose values differ from those of the conditioned surface, with their values.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Revised {
    /// Metres, before filling.
    pub enforced: BTreeMap<Cell, f32>,
    /// Metres, filled.
    pub surface: BTreeMap<Cell, f32>,
    /// Codes of [`crate::direction`].
    pub direction: BTreeMap<Cell, u8>,
}

/// Only ever asked what is in it and put into maps in order.
type Cells = HashSet<Cell, FixedState>;

impl Revised {
    /// Puts the differences in the place of the values before, and keeps those: done again it restores them. Cuts and beds
    /// stay as they are.
    pub fn swap(&mut self, conditioned: &mut Conditioned) {
        swap(&mut self.enforced, &mut conditioned.enforced);
        swap(&mut self.surface, &mut conditioned.surface);
        swap(&mut self.direction, &mut conditioned.flow.direction);
    }
}

fn swap<T>(differences: &mut BTreeMap<Cell, T>, raster: &mut Raster<T>) {
    for (&cell, value) in differences {
        std::mem::swap(value, &mut raster[cell]);
    }
}

impl RevisionBase<'_> {
    /// The differences where the cuts that begin at some pits are not made.
    ///
    /// *Method*: a cell whose path avoids the restored ground keeps its level, and so does one that stands at least as high
    /// as all of it. The rest is filled again, and the directions of its cells and their neighbours are found again, with
    /// the whole of every flat among them.
    ///
    /// *Complexity*: O(m log m) in the cells that can change, and O(r) in those of the smallest rectangle around
    /// them.
    pub fn without_cuts(&self, pits: &BTreeSet<Cell>) -> Revised {
        let enforced = self.restored(pits);
        let crest = enforced.values().copied().fold(f32::NEG_INFINITY, f32::max);
        let pool = self.upstream_below(enforced.keys().copied(), crest);
        self.revised(enforced, &pool, None)
    }

    /// The differences where the water of a filled depression ends in one of its cells instead of spilling.
    ///
    /// *Method*: only raised ground connected with the cell can fall; see [`Self::without_cuts`] for the rest.
    ///
    /// *Complexity*: as there.
    pub fn with_sink(&self, sink: Cell) -> Revised {
        let pool = self.pool_of(sink);
        self.revised(BTreeMap::new(), &pool, Some(sink))
    }

    /// Some cells and those below a level whose water passes them.
    fn upstream_below(&self, cells: impl Iterator<Item = Cell>, level: f32) -> Cells {
        let Conditioned { surface, flow, .. } = self.conditioned;
        let mut found = Cells::default();
        let mut open: Vec<Cell> = cells.collect();
        while let Some(cell) = open.pop() {
            if found.insert(cell) {
                let donors = surface.frame.neighbours(cell).map(|(_, next)| next);
                let donors = donors.filter(|&next| flow.receiver(next) == Some(cell));
                let carried = flow.links.inlets_of(cell).iter().copied();
                open.extend(donors.chain(carried).filter(|&donor| surface[donor] < level));
            }
        }
        found
    }

    /// The raised cells connected with one of them, over links too.
    fn pool_of(&self, sink: Cell) -> Cells {
        let Conditioned { surface, enforced, flow, .. } = self.conditioned;
        let mut found = Cells::default();
        let mut open = vec![sink];
        while let Some(cell) = open.pop() {
            if found.insert(cell) {
                let beside = surface.frame.neighbours(cell).map(|(_, next)| next);
                let carried = flow.links.inlets_of(cell).iter().copied();
                open.extend(beside.chain(carried).filter(|&next| surface[next] > enforced[next]));
            }
        }
        found
    }

    /// The neighbours of some cells, those among them too.
    fn around<'b>(&'b self, cells: &'b Cells) -> impl Iterator<Item = Cell> + 'b {
        let frame = &self.conditioned.surface.frame;
        cells.iter().flat_map(move |&cell| frame.neighbours(cell).map(|(_, next)| next))
    }

    /// The differences with some levels before filling that reach no further than a pool, and perhaps one more sink.
    fn revised(&self, enforced: BTreeMap<Cell, f32>, pool: &Cells, sink: Option<Cell>) -> Revised {
        let before = self.conditioned;
        let surface = self.refilled(&enforced, pool, sink);
        let level = |cell: Cell| surface.get(&cell).copied().unwrap_or(before.surface[cell]);
        let new_sink = sink.filter(|sink| !self.sinks.contains(sink));
        let touched: Cells = surface
            .keys()
            .copied()
            .chain(new_sink)
            .flat_map(|cell| before.surface.frame.neighbours(cell).map(|(_, next)| next).chain([cell]))
            .filter(|&cell| !before.surface[cell].is_nan())
            .collect();
        let open = self.with_whole_flats(&level, &touched);
        let direction = self.redirected(&surface, &open, sink);
        Revised { enforced, surface, direction }
    }

    /// Filled levels of the cells of a pool that differ from those before.
    fn refilled(&self, enforced: &BTreeMap<Cell, f32>, pool: &Cells, sink: Option<Cell>) -> BTreeMap<Cell, f32> {
        let before = self.conditioned;
        let links = &before.flow.links;
        let carried_to = || pool.iter().filter_map(|&cell| links.outlet_of(cell));
        let Some(part) = Extract::around(before.surface.frame, pool.iter().copied().chain(carried_to())) else {
            return BTreeMap::new();
        };
        // Around the pool the levels are known; there they stand for ground, and nothing beyond is needed.
        let around = self.around(pool).chain(carried_to()).map(|cell| (cell, before.surface[cell]));
        let within = pool.iter().map(|&cell| (cell, before.enforced[cell]));
        let restored = enforced.iter().map(|(&cell, &level)| (cell, level));
        let ground = part.raster(around.chain(within).chain(restored));
        let inside = part.links_between(links, &ground);
        let known = part.links_of(links).filter(|link| inside.binary_search(link).is_err()).map(|link| link.inlet);
        let ends: Vec<Cell> = self.sinks_in(&part, sink).chain(known).filter_map(|cell| part.cell(cell)).collect();
        let filled = fill(&ground, &part.links(&inside), &ends).surface;
        let level = |&cell: &Cell| Some((cell, filled[part.cell(cell)?]));
        pool.iter().filter_map(level).filter(|&(cell, level)| level != before.surface[cell]).collect()
    }

    /// The sinks within a part, and perhaps one more.
    fn sinks_in(&self, part: &Extract, more: Option<Cell>) -> impl Iterator<Item = Cell> {
        part.rows().flat_map(|run| self.sinks.range(run).copied()).chain(more)
    }

    /// Directions that differ from those before among some cells, with the levels that differ.
    fn redirected(&self, levels: &BTreeMap<Cell, f32>, open: &Cells, sink: Option<Cell>) -> BTreeMap<Cell, u8> {
        let before = self.conditioned;
        let links = &before.flow.links;
        let carried_to = || open.iter().filter_map(|&cell| links.outlet_of(cell));
        let Some(part) = Extract::around(before.surface.frame, open.iter().copied().chain(carried_to())) else {
            return BTreeMap::new();
        };
        let cells = open.iter().copied().chain(self.around(open)).chain(carried_to());
        let changed = levels.iter().map(|(&cell, &level)| (cell, level));
        let surface = part.raster(cells.map(|cell| (cell, before.surface[cell])).chain(changed));
        let inside = part.links_between(links, &surface);
        let ends = self
            .sinks_in(&part, sink)
            .filter_map(|cell| part.cell(cell))
            .filter(|&cell| !surface[cell].is_nan())
            .collect::<Vec<_>>();
        let steps = self.steps_in(part.rows()).into_iter();
        let channels: Vec<Vec<Cell>> =
            steps.filter_map(|(from, to)| Some(vec![part.cell(from)?, part.cell(to)?])).collect();
        let flow = flow_along_channels(&surface, part.links(&inside), &ends, &channels);
        let code = |&cell: &Cell| Some((cell, flow.direction[part.cell(cell)?]));
        let mut directions: BTreeMap<Cell, u8> = open.iter().filter_map(code).collect();
        let given = Directed {
            frame: &before.surface.frame,
            level: |cell: Cell| Ok(levels.get(&cell).copied().unwrap_or(before.surface[cell])),
            code: |cell: Cell| Ok(directions.get(&cell).copied().unwrap_or(before.flow.direction[cell])),
            links,
            is_sink: &|cell| sink == Some(cell) || self.sinks.contains(&cell),
        };
        let Ok::<_, Infallible>(along_channels) = self.courses.directions(open.iter().copied(), &given);
        directions.extend(along_channels);
        directions.retain(|&cell, code| *code != before.flow.direction[cell]);
        directions
    }

    /// Some cells, with all cells of the flats among them or beside them, those at the other end of a level link, and those from
    /// which a channel runs level to one of them.
    fn with_whole_flats(&self, level: &impl Fn(Cell) -> f32, touched: &Cells) -> Cells {
        let surface = &self.conditioned.surface;
        let links = &self.conditioned.flow.links;
        let mut found = Cells::default();
        let mut open: Vec<Cell> = touched.iter().copied().collect();
        while let Some(cell) = open.pop() {
            if !found.insert(cell) {
                continue;
            }
            let here = level(cell);
            let beside = || surface.frame.neighbours(cell).map(|(_, next)| next);
            let joined = links.outlet_of(cell).into_iter().chain(links.inlets_of(cell).iter().copied());
            let has_level_link = joined.clone().any(|other| level(other) == here);
            // Where water leaves the data a channel may keep it, as on a flat.
            let may_be_flat = !beside().any(|next| level(next) < here) || is_outlet(surface, cell);
            // A flat beside a touched cell may have gained or lost its low edge.
            if may_be_flat || has_level_link || touched.contains(&cell) {
                open.extend(beside().filter(|&next| level(next) == here));
            }
            // Whether a level line is followed depends on where it leads.
            let upstream = self.courses.before(cell).iter().copied();
            open.extend(joined.chain(upstream).filter(|&other| level(other) == here));
        }
        found
    }
}

/// A rectangle of a raster, of which only some cells are looked at.
struct Extract {
    whole: Frame,
    frame: Frame,
    col: usize,
    row: usize,
}

impl Extract {
    /// The smallest rectangle that holds some cells and two more on every side, so that its rim is no edge of the data
    /// for their neighbours. `None` without cells.
    fn around(whole: Frame, cells: impl Iterator<Item = Cell>) -> Option<Self> {
        const MARGIN: usize = 2;
        let places: Vec<(usize, usize)> = cells.map(|cell| whole.col_row(cell)).collect();
        let span = |axis: &dyn Fn(&(usize, usize)) -> usize, count: usize| {
            let (least, most) = (places.iter().map(axis).min()?, places.iter().map(axis).max()?);
            let first = least.saturating_sub(MARGIN);
            Some((first, (most + MARGIN + 1).min(count) - first))
        };
        let (col, cols) = span(&|place| place.0, whole.cols())?;
        let (row, rows) = span(&|place| place.1, whole.rows())?;
        let corner = (whole.west() + col as f64 * whole.cell_width(), whole.north() - row as f64 * whole.cell_height());
        let frame = Frame::new(cols, rows, corner, (whole.cell_width(), whole.cell_height()))
            .expect("a part of a sound frame is sound");
        Some(Self { whole, frame, col, row })
    }

    /// Its rows as runs of the whole's cells.
    fn rows(&self) -> impl Iterator<Item = RangeInclusive<Cell>> {
        let rows = self.row..self.row + self.frame.rows();
        rows.map(|row| self.whole.cell(self.col, row)..=self.whole.cell(self.col + self.frame.cols() - 1, row))
    }

    fn cell(&self, cell: Cell) -> Option<Cell> {
        let (col, row) = self.whole.col_row(cell);
        let (col, row) = (col.checked_sub(self.col)?, row.checked_sub(self.row)?);
        (col < self.frame.cols() && row < self.frame.rows()).then(|| self.frame.cell(col, row))
    }

    /// Some cells of the whole with their values, the last one where there are several; the others have none.
    fn raster(&self, cells: impl Iterator<Item = (Cell, f32)>) -> Raster<f32> {
        let mut raster = Raster::filled(self.frame, f32::NAN);
        for (cell, value) in cells {
            if let Some(cell) = self.cell(cell) {
                raster[cell] = value;
            }
        }
        raster
    }

    /// Links of the whole that begin inside, in the order of their inlets.
    fn links_of(&self, links: &Links) -> impl Iterator<Item = Link> {
        self.rows().flat_map(|run| links.in_run(run))
    }

    /// Links of the whole of which both ends have a value, in the order of their inlets.
    fn links_between(&self, links: &Links, values: &Raster<f32>) -> Vec<Link> {
        let has_value = |cell: Cell| self.cell(cell).is_some_and(|cell| !values[cell].is_nan());
        self.links_of(links).filter(|link| has_value(link.inlet) && has_value(link.outlet)).collect()
    }

    /// Links of the whole that lie inside.
    fn links(&self, inside: &[Link]) -> Links {
        let link = |link: &Link| Some(Link { inlet: self.cell(link.inlet)?, outlet: self.cell(link.outlet)? });
        let inside: Vec<Link> = inside.iter().filter_map(link).collect();
        Links::new(&inside).expect("links of a sound whole are sound")
    }
}
