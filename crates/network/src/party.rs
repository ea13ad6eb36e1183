//! Who a cell belongs to.

use fallwright_units::{Cell, LabelRuns, ParcelIx, RoadIx};

/// A landowner's parcel, a road, or land of neither, which is one party.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Party {
    Unowned,
    Road(RoadIx),
    Parcel(ParcelIx),
}

/// The party of every cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Parties {
    /// 0 unowned; the number of a parcel; the number of a road with [`ROAD`] set.
    labels: LabelRuns,
}

/// Set in the labels of roads.
const ROAD: u32 = 1 << 31;

impl Parties {
    /// The parties of all cells, in the order of their index.
    ///
    /// # Panics
    /// More cells than 32 bits count; more parcels or roads than 31 bits count.
    pub fn new(parties: impl IntoIterator<Item = Party>) -> Self {
        let in_31_bits = |number: u32| {
            assert!(number < ROAD, "31 bits count the parcels and the roads");
            number
        };
        let label = |party| match party {
            Party::Unowned => 0,
            Party::Road(road) => in_31_bits(road.number()) | ROAD,
            Party::Parcel(parcel) => in_31_bits(parcel.number()),
        };
        Self { labels: LabelRuns::new(parties.into_iter().map(label)) }
    }

    #[inline]
    pub fn of(&self, cell: Cell) -> Party {
        let label = self.labels[cell];
        let road = || RoadIx::from_number(label & !ROAD).filter(|_| label & ROAD != 0).map(Party::Road);
        road().or_else(|| ParcelIx::from_number(label).map(Party::Parcel)).unwrap_or(Party::Unowned)
    }

    pub fn cells(&self) -> impl Iterator<Item = Cell> + use<> {
        (0..self.labels.len()).map(Cell)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cell_has_the_party_that_was_given() {
        let given = [
            Party::Unowned,
            Party::Road(RoadIx(0)),
            Party::Parcel(ParcelIx(0)),
            Party::Road(RoadIx(1)),
            Party::Parcel(ParcelIx((1 << 31) - 2)),
            Party::Road(RoadIx((1 << 31) - 2)),
        ];
        let parties = Parties::new(given);
        assert_eq!(parties.cells().map(|cell| parties.of(cell)).collect::<Vec<_>>(), given);
    }
}
