//! Other parcels' paths across the parcels that get a sheet.

use std::collections::BTreeMap;

use fallwright_network::{Party, Trace};
use fallwright_study::Study;
use fallwright_units::{ParcelIx, ShareIx};
use geo::LineString;

/// A share of another parcel whose path crosses a parcel.
#[derive(Debug, PartialEq)]
struct Across {
    giver: ParcelIx,
    share: ShareIx,
    /// Metres from the start of the path to the end of its first way across the parcel.
    end_m: f64,
}

/// The shares whose paths cross each parcel, in the order of the parcels that they come from.
pub(crate) struct Incoming {
    by_parcel: BTreeMap<ParcelIx, Vec<Across>>,
}

impl Incoming {
    /// *Complexity*: linear in the crossings of all paths, besides a search among the parcels asked for.
    pub(crate) fn find(study: &Study, asked: &[ParcelIx]) -> Self {
        let mut by_parcel: BTreeMap<ParcelIx, Vec<Across>> = asked.iter().map(|&parcel| (parcel, Vec::new())).collect();
        if !asked.is_empty() {
            for (giver, shares) in study.shares.iter_enumerated() {
                for (share, _) in shares.iter_enumerated().filter(|(_, share)| !share.is_remainder) {
                    add(&mut by_parcel, (giver, share), &study.trace(giver, share));
                }
            }
        }
        Self { by_parcel }
    }

    /// Other parcels' paths to the end of their way across a parcel, and whether each carries a hectare or more.
    pub(crate) fn lines(&self, study: &Study, parcel: ParcelIx) -> Vec<(LineString<f64>, bool)> {
        let line = |&Across { giver, share, end_m }: &Across| {
            let path = study.path(giver, share);
            let points = path.stations.iter().filter(|station| station.distance_m <= end_m);
            let line = points.map(|station| (station.x, station.y)).collect();
            (line, study.hectares(study.shares[giver][share].cells) >= 1.0)
        };
        self.by_parcel.get(&parcel).into_iter().flatten().map(line).collect()
    }
}

/// Adds a share to the parcels that its path crosses, once to each.
fn add(by_parcel: &mut BTreeMap<ParcelIx, Vec<Across>>, (giver, share): (ParcelIx, ShareIx), trace: &Trace) {
    for crossing in &trace.crossings {
        let Party::Parcel(parcel) = crossing.to else { continue };
        let Some(across) = by_parcel.get_mut(&parcel).filter(|_| parcel != giver) else { continue };
        let is_known = across.last().is_some_and(|last| (last.giver, last.share) == (giver, share));
        if !is_known {
            across.push(Across { giver, share, end_m: crossing.distance_m + crossing.metres_on_land });
        }
    }
}

#[cfg(test)]
mod tests {
    use fallwright_network::{Carrier, Crossing, Station};
    use fallwright_units::{Cell, RoadIx};

    use super::*;

    fn trace(crossed: &[(Party, f64)]) -> Trace {
        let station =
            Station { x: 0.0, y: 0.0, cell: Cell(0), carrier: Carrier::Overland, distance_m: 0.0, level_m: 0.0 };
        let crossing = |&(to, distance_m): &(Party, f64)| Crossing {
            from: Party::Unowned,
            to,
            x: 0.0,
            y: 0.0,
            distance_m,
            metres_on_land: 5.0,
            carrier: Carrier::Overland,
            ground_m: 0.0,
            fall_m: 0.0,
        };
        Trace {
            crossings: crossed.iter().map(crossing).collect(),
            outlet: None,
            end: None,
            carriers: Vec::new(),
            deepest_fill_m: 0.0,
            deepest_fill_at: Cell(0),
            first: station,
            last: station,
            before_outlet: Cell(0),
        }
    }

    /// What parcel 2 is crossed by, where parcels 0 and 2 are asked for and a share of parcel 0 takes a path.
    fn check(crossed: &[(Party, f64)], expected: &[f64]) {
        let mut by_parcel: BTreeMap<ParcelIx, Vec<Across>> =
            [(ParcelIx(0), Vec::new()), (ParcelIx(2), Vec::new())].into();
        let (giver, share) = (ParcelIx(0), ShareIx(1));
        add(&mut by_parcel, (giver, share), &trace(crossed));
        let expected: Vec<Across> = expected.iter().map(|&end_m| Across { giver, share, end_m }).collect();
        assert_eq!(by_parcel[&ParcelIx(2)], expected, "{crossed:?}");
        assert!(by_parcel[&ParcelIx(0)].is_empty() && by_parcel.len() == 2, "{crossed:?}");
    }

    #[test]
    fn a_path_is_known_once_at_each_parcel_that_it_crosses() {
        check(&[], &[]);
        check(&[(Party::Road(RoadIx(0)), 3.0), (Party::Unowned, 9.0)], &[]);
        check(&[(Party::Parcel(ParcelIx(1)), 3.0), (Party::Parcel(ParcelIx(2)), 8.0)], &[13.0]);
        check(
            &[(Party::Parcel(ParcelIx(2)), 3.0), (Party::Parcel(ParcelIx(1)), 8.0), (Party::Parcel(ParcelIx(2)), 13.0)],
            &[8.0],
        );
        check(&[(Party::Parcel(ParcelIx(1)), 3.0), (Party::Parcel(ParcelIx(0)), 8.0)], &[]);
    }
}
