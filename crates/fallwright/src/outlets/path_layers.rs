//! Paths and the lot lines they cross.

use fallwright_network::{Crossing, End, Share, Trace};
use fallwright_report::{CrossingProperties, LandCrossed, PathProperties, Record, metres};
use fallwright_units::Cell;
use geo::{LineString, Point};

use super::parcel_layer::crossed;
use crate::study::Study;
use crate::works::{Works, works};

/// A record for each share but the remainder; each path is followed when its record is asked for.
pub(super) fn paths(study: &Study) -> impl Iterator<Item = Record<PathProperties>> {
    drawn(study).map(move |(parcel, number, share, trace)| path(study, parcel, number, share, trace))
}

pub(super) fn crossings(study: &Study) -> impl Iterator<Item = Record<CrossingProperties>> {
    drawn(study).flat_map(move |(parcel, number, _, trace)| {
        (1..).zip(&trace.crossings).map(move |(order, crossing)| {
            let properties = CrossingProperties {
                parcel_id: study.inputs.parcels[parcel].id.to_string(),
                share: number as u32 + 1,
                crossing: land_crossed(study, order, crossing),
            };
            Record { geometry: Some(Point::new(crossing.x, crossing.y).into()), properties }
        })
    })
}

fn drawn(study: &Study) -> impl Iterator<Item = (usize, usize, &Share, &Trace)> {
    study.shares.iter().zip(&study.traces).enumerate().flat_map(|(parcel, (shares, traces))| {
        let own = shares.iter().zip(traces).enumerate();
        own.filter(|(_, (share, _))| !share.is_remainder)
            .map(move |(number, (share, trace))| (parcel, number, share, trace))
    })
}

fn path(study: &Study, parcel: usize, number: usize, share: &Share, trace: &Trace) -> Record<PathProperties> {
    let end = study.network.leaving(parcel, number).and_then(|node| study.network.end_of(node));
    let properties = PathProperties {
        parcel_id: study.inputs.parcels[parcel].id.to_string(),
        share: number as u32 + 1,
        main: number == 0,
        hectares: study.hectares(share.cells),
        outlet_id: trace.outlet.map(|outlet| study.setting.feature_id(outlet).to_owned()),
        outlet_class: trace.outlet.map(|outlet| study.feature_class(outlet).to_owned()),
        path_m: metres(trace.length_m()),
        fall_m: metres(trace.fall_m()),
        parcels_crossed: crossed(study, parcel, trace),
        reaches: study.reach_chain(parcel, number),
        ends: match end {
            Some(End::Hole) => "hole",
            Some(End::KeptDepression) => "kept_depression",
            Some(End::Edge) | None => "edge",
        },
    };
    Record { geometry: line(study, parcel, number).map(Into::into), properties }
}

/// The line of a path. One that leaves and ends in the same cell is drawn from the cell above it; a single cell with
/// nothing above it has no line.
fn line(study: &Study, parcel: usize, share: usize) -> Option<LineString<f64>> {
    let mut points: Vec<(f64, f64)> =
        study.path(parcel, share).stations.iter().map(|station| (station.x, station.y)).collect();
    if points.len() == 1 {
        points.insert(0, study.setting.frame().centre(main_donor(study, study.shares[parcel][share].leaving)?));
    }
    Some(LineString::from(points))
}

/// The neighbour that brings a cell most of its water.
fn main_donor(study: &Study, cell: Cell) -> Option<Cell> {
    let flow = &study.setting.conditioned.flow;
    let frame = study.setting.frame();
    let donors = frame.neighbours(cell).map(|(_, next)| next);
    donors.filter(|&donor| flow.receiver(donor) == Some(cell)).max_by_key(|&donor| (study.setting.area(donor), donor))
}

/// The properties of one crossing.
pub(crate) fn land_crossed(study: &Study, order: u32, crossing: &Crossing) -> LandCrossed {
    let Works { carried_by, carrier_id, maintained_by, notified, .. } = works(study, crossing.carrier, crossing.to);
    LandCrossed {
        order,
        from: study.party_name(crossing.from),
        to: study.party_name(crossing.to),
        to_owner: study.party_owner(crossing.to).map(ToOwned::to_owned),
        distance_m: metres(crossing.distance_m),
        metres_on_land: metres(crossing.metres_on_land),
        fall_m: (!crossing.fall_m.is_nan()).then(|| metres(crossing.fall_m)),
        carried_by,
        carrier_id,
        ground_m: (!crossing.ground_m.is_nan()).then(|| metres(f64::from(crossing.ground_m))),
        maintained_by,
        notified,
    }
}
