//! What a path of water crosses and meets, and where it ends.

use std::collections::BTreeSet;

use fallwright_law::{ConstraintOnPath, FeatureMet, LandOnPath, OutletOnPath, PathEnd};
use fallwright_network::{Carrier, End, Feature, Party, Path, Station, Trace};
use fallwright_units::{Metres, ParcelId, ParcelIx};
use rustc_hash::FxHashMap;

use super::holdings::Holdings;
use super::lands::land;
use super::quantities::metres;
use crate::answers::constraints::ConstraintAlong;
use crate::study::Study;

/// Where a path ends; one that the network leaves open leaves the data.
pub fn path_end(end: Option<End>) -> PathEnd {
    match end {
        Some(End::Hole) => PathEnd::Hole,
        Some(End::KeptDepression) => PathEnd::KeptDepression,
        Some(End::ClosedLake) => PathEnd::ClosedLake,
        Some(End::Edge) | None => PathEnd::Edge,
    }
}

/// Parcels of others that the path crosses, in order.
pub(super) fn parcels_crossed(study: &Study, parcel: ParcelIx, trace: &Trace, holdings: &Holdings) -> Vec<ParcelId> {
    let others = trace.parcels_crossed().into_iter().filter(|&crossed| !holdings.are_one(crossed, parcel));
    others.map(|crossed| study.inputs.parcels[crossed].id.clone()).collect()
}

/// Land of others crossed, each once with all metres on it and what carries the water there.
pub(super) fn lands(study: &Study, parcel: ParcelIx, trace: &Trace, holdings: &Holdings) -> Vec<LandOnPath> {
    let mut found: Vec<LandOnPath> = Vec::new();
    let mut place: FxHashMap<Party, usize> = FxHashMap::default();
    let is_own = |party| matches!(party, Party::Parcel(other) if holdings.are_one(other, parcel));
    for crossing in trace.crossings.iter().filter(|crossing| !is_own(crossing.to)) {
        let place = *place.entry(crossing.to).or_insert_with(|| {
            found.push(LandOnPath { land: land(study, crossing.to), metres: Metres::ZERO, carriers: Vec::new() });
            found.len() - 1
        });
        found[place].metres = found[place].metres + metres(crossing.metres_on_land);
        found[place].carriers.push(match crossing.carrier {
            Carrier::Mapped(feature) => Some(study.setting.feature_id(feature).to_owned()),
            Carrier::Overland => None,
        });
    }
    found
}

/// The lawful outlets among the features of some channels, each once; `reached_on_own_land` are those met there.
pub(super) fn lawful_outlets(
    study: &Study,
    channels: &[Vec<Feature>],
    crossed: &[ParcelId],
    reached_on_own_land: &[Feature],
) -> Vec<OutletOnPath> {
    let lawful = |feature: &Feature| match *feature {
        Feature::Waterway(position) => study.setting.waterways[position].lawful,
        Feature::Structure(position) => study.setting.structures[position].lawful,
    };
    let mut met = BTreeSet::new();
    let mut outlets = Vec::new();
    for channel in channels {
        for &feature in channel.iter().filter(|&feature| lawful(feature) && met.insert(*feature)) {
            let others = channel.iter().filter(|&&other| other != feature);
            outlets.push(OutletOnPath {
                feature: study.setting.feature_id(feature).to_owned(),
                name: study.feature_name(feature),
                class: study.feature_class(feature).to_owned(),
                crossed_before: crossed.to_vec(),
                reached_on_own_land: reached_on_own_land.contains(&feature),
                same_channel_as: others.map(|&other| study.setting.feature_id(other).to_owned()).collect(),
            });
        }
    }
    outlets
}

/// Every feature that runs where a path meets its outlet, the outlet first.
pub(super) fn features_at(study: &Study, outlet: Feature, trace: &Trace) -> Vec<Feature> {
    let in_channel = || study.setting.waterways_at(trace.last.cell).map(Feature::Waterway);
    let others = in_channel().filter(|&feature| feature != outlet && matches!(outlet, Feature::Waterway(_)));
    std::iter::once(outlet).chain(others).collect()
}

/// Mapped features with a class that carry the water before its first lawful outlet, in order; culverts have none.
pub(super) fn also_met(
    study: &Study,
    parcel: ParcelIx,
    (stations, trace): (&[Station], &Trace),
    holdings: &Holdings,
) -> Vec<FeatureMet> {
    // What carries the water on from the place where it meets its outlet comes after the outlet.
    let to_outlet = stations.len().saturating_sub(usize::from(trace.outlet.is_some()));
    let met = |&feature: &Feature| {
        let class = study.setting.feature_class(feature)?.to_owned();
        let carries = |station: &Station| station.carrier == Carrier::Mapped(feature);
        let first = stations[..to_outlet].iter().position(carries)?;
        // The land on which the feature is met has to be crossed to get to it.
        let before = stations[..=first].iter();
        let mut crossed_before: Vec<ParcelId> = Vec::new();
        for station in before {
            let Party::Parcel(on) = study.setting.parties.of(station.cell) else { continue };
            let id = &study.inputs.parcels[on].id;
            if !holdings.are_one(on, parcel) && !crossed_before.contains(id) {
                crossed_before.push(id.clone());
            }
        }
        let (feature, name) = (study.setting.feature_id(feature).to_owned(), study.feature_name(feature));
        Some(FeatureMet { feature, name, class, crossed_before })
    };
    trace.carriers.iter().filter_map(met).collect()
}

/// Constraints that the path of some water meets.
pub(super) fn constraints_on_path(study: &Study, path: &Path) -> Vec<ConstraintOnPath> {
    let fact = |met: ConstraintAlong| {
        let given = &study.inputs.constraints[met.constraint];
        ConstraintOnPath {
            constraint: met.constraint,
            kind: given.kind.clone(),
            id: given.id.clone(),
            name: given.name.clone(),
            class: given.class.clone(),
            metres: met.metres,
            places: met.places,
        }
    };
    study.constraints_on(path).into_iter().map(fact).collect()
}
