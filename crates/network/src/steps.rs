//! How long a stretch of a path is.

use std::ops::{Add, Sub};

use fallwright_units::{Cell, Frame};

/// The length of a stretch. Steps from cell to cell are counted, so that the length of a stretch does not depend on where the
/// path that it is part of begins.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Steps {
    across: u32,
    down: u32,
    diagonal: u32,
    /// Metres along structures.
    along_m: f64,
}

impl Steps {
    /// From a cell to one of its neighbours.
    pub(crate) fn between(frame: &Frame, from: Cell, to: Cell) -> Self {
        let ((col, row), (next_col, next_row)) = (frame.col_row(from), frame.col_row(to));
        match (col == next_col, row == next_row) {
            (false, false) => Self { diagonal: 1, ..Self::default() },
            (false, true) => Self { across: 1, ..Self::default() },
            _ => Self { down: 1, ..Self::default() },
        }
    }

    pub(crate) fn along(metres: f64) -> Self {
        Self { along_m: metres, ..Self::default() }
    }

    pub(crate) fn metres(self, frame: &Frame) -> f64 {
        let (width, height) = (frame.cell_width(), frame.cell_height());
        let straight = f64::from(self.across) * width + f64::from(self.down) * height;
        straight + f64::from(self.diagonal) * width.hypot(height) + self.along_m
    }
}

impl Add for Steps {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            across: self.across + other.across,
            down: self.down + other.down,
            diagonal: self.diagonal + other.diagonal,
            along_m: self.along_m + other.along_m,
        }
    }
}

impl Sub for Steps {
    type Output = Self;

    /// What is left of a stretch without its lower part.
    fn sub(self, lower: Self) -> Self {
        Self {
            across: self.across - lower.across,
            down: self.down - lower.down,
            diagonal: self.diagonal - lower.diagonal,
            along_m: self.along_m - lower.along_m,
        }
    }
}
