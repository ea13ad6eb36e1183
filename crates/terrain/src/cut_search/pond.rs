//! The water that stands over a pit before it spills to lower ground.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::sync::Mutex;

use fallwright_units::{Cell, Raster, TileSource};

use super::search::{Reach, Search};
use super::squares::{FLOODED, Spot, Squares};
use crate::link::Links;
use crate::surface::Level;

/// What a depression holds before it spills.
#[derive(Clone, Debug, PartialEq)]
pub struct Storage {
    /// Level at which water from the pit first reaches lower ground, metres.
    pub level_m: f64,
    /// Cells below that level, the pit first.
    pub cells: Vec<Cell>,
    /// Σ depth of water over those cells, metres; times a cell's area the volume.
    pub fill_m: f64,
}

/// The storage of a pit's depression, up to the level at which its water first reaches lower ground; `None` where it never
/// does. Of `sinks` as low as the pit those of a lower index count as lower ground: of two hollows as deep as each other in
/// one depression, one spills into the other.
///
/// *Complexity*: O(k log k) for the k cells flooded.
pub fn storage(surface: &Raster<f32>, links: &Links, sinks: &[Cell], pit: Cell) -> Option<Storage> {
    let mut squares = Squares::new(surface);
    let reach = Reach { most_squares: usize::MAX, large: &Mutex::default() };
    let Ok(mut search) = Search::begin(&mut squares, links, pit, reach);
    search.ends = sinks.iter().copied().filter(|&sink| surface[sink] == surface[pit] && sink < pit).collect();
    let mut pond = Pond::default();
    let Ok(()) = pond.start(&mut search);
    let Ok(()) = pond.rise(&mut search, f64::INFINITY);
    let level = pond.level;
    let flooded = pond.cells[..pond.stored].iter().map(|&spot| search.cell(spot));
    (pond.state == State::Spills).then(|| Storage {
        level_m: f64::from(level),
        cells: flooded.filter(|&cell| surface[cell] < level).collect(),
        fill_m: pond.fill_m(),
    })
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum State {
    #[default]
    Rising,
    /// Lower ground was reached: the fill is final.
    Spills,
    /// No cell is left, or the search may go no farther.
    Closed,
}

/// A flood that rises from a pit; its buffers serve one pit after another.
#[derive(Default)]
pub(super) struct Pond {
    open: BinaryHeap<Reverse<(Level, Spot)>>,
    /// In the order in which they were flooded.
    cells: Vec<Spot>,
    /// The highest level so far.
    level: f32,
    /// Cells flooded before the last one at the highest level; those after it lie on the way down.
    stored: usize,
    /// Σ levels of the stored cells and of all cells, metres.
    stored_sum_m: f64,
    sum_m: f64,
    pub(super) state: State,
}

impl Pond {
    pub(super) fn start<S: TileSource<f32>>(&mut self, search: &mut Search<S>) -> Result<(), S::Error> {
        self.open.clear();
        self.cells.clear();
        (self.stored, self.stored_sum_m, self.sum_m, self.state) = (0, 0.0, 0.0, State::Rising);
        self.level = search.squares.level(search.pit)?;
        *search.squares.known(search.pit).0 |= FLOODED;
        self.open.push(Reverse((Level(self.level), search.pit)));
        Ok(())
    }

    /// Σ depth of water, metres; the pond holds at least so much before it spills, and no more once it does.
    pub(super) fn fill_m(&self) -> f64 {
        self.stored as f64 * f64::from(self.level) - self.stored_sum_m
    }

    /// Σ depth of water that the pond can hold, as far as is known, metres.
    pub(super) fn most_m(&self) -> f64 {
        if self.state == State::Spills { self.fill_m() } else { f64::INFINITY }
    }

    /// Floods on until the pond holds `enough_m`, spills or closes.
    pub(super) fn rise<S: TileSource<f32>>(&mut self, search: &mut Search<S>, enough_m: f64) -> Result<(), S::Error> {
        while self.state == State::Rising && self.fill_m() < enough_m {
            match self.open.pop() {
                Some(Reverse((Level(z), spot))) if search.may_go_on() => self.flood(search, z, spot)?,
                _ => self.state = State::Closed,
            }
        }
        Ok(())
    }

    fn flood<S: TileSource<f32>>(&mut self, search: &mut Search<S>, z: f32, spot: Spot) -> Result<(), S::Error> {
        if z >= self.level {
            self.level = z;
            (self.stored, self.stored_sum_m) = (self.cells.len(), self.sum_m);
        }
        let around = search.squares.around(spot)?;
        if search.is_lower_ground(spot, z, &around)? {
            self.state = State::Spills;
            return Ok(());
        }
        self.cells.push(spot);
        self.sum_m += f64::from(z);
        for (position, &level) in around.iter().enumerate().filter(|(_, level)| !level.is_nan()) {
            let next = spot.neighbour(position);
            let (mark, _) = search.squares.known(next);
            if *mark & FLOODED == 0 {
                *mark |= FLOODED;
                self.open.push(Reverse((Level(level), next)));
            }
        }
        Ok(())
    }
}
