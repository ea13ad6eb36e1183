//! Up the slope: whose water arrives at a place, how much, and which way it comes.

use std::collections::BTreeMap;

use fallwright_network::{Arrival, Inflow, Party, arriving};
use fallwright_units::ParcelIx;

use crate::error::StudyError;
use crate::place::{MapPoint, Place};
use crate::study::Study;

/// Where water arrives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ArrivingAt {
    Parcel(ParcelIx),
    Point(MapPoint),
}

/// Somebody whose water arrives.
#[derive(Clone, Debug)]
pub struct Giver {
    pub party: Party,
    /// Most water first.
    pub ways: Vec<Arrival>,
}

impl Giver {
    pub fn cells(&self) -> u64 {
        self.ways.iter().map(|way| way.cells).sum()
    }
}

/// The water that arrives at a place.
#[derive(Clone, Debug)]
pub struct ArrivingWater {
    pub at: ArrivingAt,
    pub cells: u64,
    /// Where it comes in.
    pub inflows: Vec<Inflow>,
    /// Most water first.
    pub givers: Vec<Giver>,
}

impl Study {
    /// Finds whose water arrives on a parcel or passes a point.
    ///
    /// *Complexity*: O(n) for n cells.
    ///
    /// # Errors
    /// An unknown parcel, a point without elevation, a place of another kind.
    pub fn arriving(&self, place: &Place) -> Result<ArrivingWater, StudyError> {
        let (at, found) = match place {
            Place::Parcel(id) => {
                let parcel = self.parcel(id)?;
                let party = Party::Parcel(parcel);
                let found = arriving(&self.setting, |cell| self.setting.parties.of(cell) == party);
                (ArrivingAt::Parcel(parcel), found)
            }
            Place::Point(point) => {
                let at = self.cell_at(*point)?;
                (ArrivingAt::Point(*point), arriving(&self.setting, |cell| cell == at))
            }
            Place::Outlet(_) => {
                return Err(StudyError::OtherPlace { question: "a trace", expected: "a parcel or a point" });
            }
        };
        let cells = found.arrivals.iter().map(|arrival| arrival.cells).sum();
        Ok(ArrivingWater { at, cells, inflows: found.inflows, givers: givers(found.arrivals) })
    }
}

fn givers(arrivals: Vec<Arrival>) -> Vec<Giver> {
    let mut by_giver: BTreeMap<Party, Vec<Arrival>> = BTreeMap::new();
    for arrival in arrivals {
        by_giver.entry(arrival.giver).or_default().push(arrival);
    }
    let mut givers: Vec<Giver> = by_giver.into_iter().map(|(party, ways)| Giver { party, ways }).collect();
    givers.sort_by_key(|giver| (std::cmp::Reverse(giver.cells()), giver.party));
    givers
}
