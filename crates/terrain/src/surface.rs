//! Surfaces: where water leaves them, how their levels are ordered, and what filling makes of them.

use fallwright_units::{Cell, Frame, Raster};

/// A surface on which every cell has a path to an outlet that never rises.
#[derive(Clone, Debug, PartialEq)]
pub struct Filled {
    /// Unfinished where links are blocked.
    pub surface: Raster<f32>,
    /// Inlets of links through which no water can leave, because the only way on from their outlet leads back to them.
    pub blocked: Vec<Cell>,
}

/// Whether water may leave the data at a cell: it has a value and lies at the raster's edge or beside missing data.
pub(crate) fn is_outlet(ground: &Raster<f32>, cell: Cell) -> bool {
    !ground[cell].is_nan()
        && (at_edge(&ground.frame, cell) || ground.frame.neighbours(cell).any(|(_, next)| ground[next].is_nan()))
}

fn at_edge(frame: &Frame, cell: Cell) -> bool {
    let (col, row) = frame.col_row(cell);
    col == 0 || row == 0 || col + 1 == frame.cols() || row + 1 == frame.rows()
}

/// An elevation with a total order; ties in the flood fall to the lower cell index.
#[derive(Clone, Copy, PartialEq)]
pub(crate) struct Level(pub(crate) f32);

impl Eq for Level {}

impl Ord for Level {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl PartialOrd for Level {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
