//! Where a search from a pit stands.

use std::sync::{Mutex, MutexGuard, PoisonError};

use fallwright_units::{Cell, NEIGHBOURS, TileSource};

use super::squares::{Spot, Squares};
use crate::link::Links;

/// A search that reaches into more squares waits until no other such search runs, so that only one takes much memory.
const FEW_SQUARES: usize = 64;

/// How far a search may go.
#[derive(Clone, Copy)]
pub(super) struct Reach<'l> {
    /// Squares that it may reach into.
    pub(super) most_squares: usize,
    /// Held by the one search that takes much memory.
    pub(super) large: &'l Mutex<()>,
}

/// A pit and the ground around it.
pub(super) struct Search<'s, 'l, 'a, S> {
    pub(super) squares: &'s mut Squares<'a, S>,
    links: &'l Links,
    reach: Reach<'l>,
    alone: Option<MutexGuard<'l, ()>>,
    pub(super) pit: Spot,
    pub(super) pit_level: f32,
    /// Cells as low as the pit that count as lower ground.
    pub(super) ends: Vec<Cell>,
    /// To the neighbours, in the order of [`NEIGHBOURS`].
    pub(super) distances_m: [f64; 8],
}

impl<'s, 'l, 'a, S: TileSource<f32>> Search<'s, 'l, 'a, S> {
    pub(super) fn begin(
        squares: &'s mut Squares<'a, S>,
        links: &'l Links,
        pit: Cell,
        reach: Reach<'l>,
    ) -> Result<Self, S::Error> {
        squares.begin();
        let pit = Spot::new(squares.frame(), pit);
        let pit_level = squares.level(pit)?;
        let (width, height) = (squares.frame().cell_width(), squares.frame().cell_height());
        let distances_m = NEIGHBOURS.map(|(dc, dr)| (f64::from(dc) * width).hypot(f64::from(dr) * height));
        Ok(Self { squares, links, reach, alone: None, pit, pit_level, ends: Vec::new(), distances_m })
    }

    /// Whether the search has reached no farther than it may; a wide one waits for its turn.
    pub(super) fn may_go_on(&mut self) -> bool {
        let reached = self.squares.reached();
        if reached > FEW_SQUARES && self.alone.is_none() {
            self.alone = Some(self.reach.large.lock().unwrap_or_else(PoisonError::into_inner));
        }
        reached <= self.reach.most_squares
    }

    /// Ends a wide search: its turn, to be given up once its memory is.
    pub(super) fn end(self) -> Option<MutexGuard<'l, ()>> {
        self.alone
    }

    pub(super) fn cell(&self, spot: Spot) -> Cell {
        spot.cell(self.squares.frame())
    }

    /// Whether a cell of which the level and those around it are known is lower ground: below the pit, where water leaves
    /// the data, one of `ends`, or the inlet of a link whose outlet lies below the pit.
    pub(super) fn is_lower_ground(&mut self, spot: Spot, level: f32, around: &[f32; 8]) -> Result<bool, S::Error> {
        if spot == self.pit {
            return Ok(false);
        }
        if level < self.pit_level || around.iter().any(|z| z.is_nan()) {
            return Ok(true);
        }
        if level == self.pit_level && self.ends.contains(&self.cell(spot)) {
            return Ok(true);
        }
        let Some(outlet) = self.links.outlet_of(self.cell(spot)) else { return Ok(false) };
        let outlet = Spot::new(self.squares.frame(), outlet);
        Ok(self.squares.level(outlet)? < self.pit_level)
    }
}
