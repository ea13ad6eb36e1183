//! Who a cell belongs to.

use fallwright_units::{Cell, LabelRuns, ParcelIx};

/// A landowner's parcel, or land that no parcel covers. Roads are one party, unowned land another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Party {
    Unowned,
    Road,
    Parcel(ParcelIx),
}

/// The party of every cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Parties {
    /// 0 unowned, 1 road, then the parcels from 2.
    labels: LabelRuns,
}

const FIRST_PARCEL: u32 = 2;

impl Parties {
    /// The parties of all cells, in the order of their index.
    ///
    /// # Panics
    /// More cells or parcels than 32 bits count.
    pub fn new(parties: impl IntoIterator<Item = Party>) -> Self {
        let label = |party| match party {
            Party::Unowned => 0,
            Party::Road => 1,
            Party::Parcel(parcel) => u32::try_from(parcel.0).expect("32 bits count the parcels") + FIRST_PARCEL,
        };
        Self { labels: LabelRuns::new(parties.into_iter().map(label)) }
    }

    pub fn of(&self, cell: Cell) -> Party {
        match self.labels[cell] {
            0 => Party::Unowned,
            1 => Party::Road,
            label => Party::Parcel(ParcelIx((label - FIRST_PARCEL) as usize)),
        }
    }

    pub fn cells(&self) -> impl Iterator<Item = Cell> + use<> {
        (0..self.labels.len()).map(Cell)
    }
}
