//! Single-direction flow.

use fallwright_units::{Cell, Raster};

use crate::direction;
use crate::link::Links;

/// Where every cell's water goes next.
#[derive(Clone, Debug, PartialEq)]
pub struct Flow {
    /// Codes of [`crate::direction`].
    pub direction: Raster<u8>,
    pub links: Links,
}

impl Flow {
    /// The next cell downstream; `None` where water ends or there is no data.
    #[inline]
    pub fn receiver(&self, cell: Cell) -> Option<Cell> {
        match self.direction[cell] {
            direction::CARRIED => self.links.outlet_of(cell),
            code => self.direction.frame.step(cell, direction::step(code)?),
        }
    }

    #[inline]
    pub fn has_data(&self, cell: Cell) -> bool {
        self.direction[cell] != direction::NODATA
    }

    /// The cells from this one to where its water ends, itself included.
    pub fn path(&self, from: Cell) -> impl Iterator<Item = Cell> + '_ {
        std::iter::successors(Some(from), |&cell| self.receiver(cell))
    }
}
