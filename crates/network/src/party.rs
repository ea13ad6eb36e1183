//! Who a cell belongs to.

use fallwright_units::{Cell, Raster};

/// A landowner's parcel, or land that no parcel covers. Roads are one party, unowned land another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Party {
    Unowned,
    Road,
    /// The parcel's position in the list of parcels.
    Parcel(usize),
}

/// The party of every cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Parties {
    /// 0 unowned, 1 road, then the parcels from 2.
    labels: Raster<u32>,
}

const FIRST_PARCEL: u32 = 2;

impl Parties {
    /// `parcels` holds 1 for the first parcel and 0 for none; `is_road` tells whether a cell without parcel is a road.
    pub fn new(parcels: &Raster<u32>, is_road: impl Fn(Cell) -> bool) -> Self {
        let label = |(index, &parcel): (usize, &u32)| match parcel {
            0 => u32::from(is_road(Cell(index))),
            parcel => parcel + FIRST_PARCEL - 1,
        };
        let values = parcels.values.iter().enumerate().map(label).collect();
        Self { labels: Raster { frame: parcels.frame, values } }
    }

    pub fn of(&self, cell: Cell) -> Party {
        match self.labels[cell] {
            0 => Party::Unowned,
            1 => Party::Road,
            label => Party::Parcel((label - FIRST_PARCEL) as usize),
        }
    }

    pub fn cells(&self) -> impl Iterator<Item = Cell> + use<> {
        (0..self.labels.values.len()).map(Cell)
    }
}
