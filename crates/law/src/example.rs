//! Facts for the tests: an invented parcel 100 with one field, tolerances of 2 m, elevations to 0.1 m.

use fallwright_units::{Hectares, Metres, ParcelId};

use crate::{
    Assessed, Assessment, Class, FeatureMet, Frontage, Land, LandOnPath, Membership, OutletOnPath, ParcelFacts,
    PathEnd, Profile, ShareFacts,
};

pub(crate) fn metres(value: f64) -> Metres {
    Metres::from_metres(value).unwrap()
}

pub(crate) fn hectares(value: f64) -> Hectares {
    Hectares::from_hectares(value).unwrap()
}

pub(crate) fn ontario() -> Profile {
    Profile::shipped("ontario").unwrap()
}

pub(crate) fn class(id: &str) -> Class {
    class_of("ontario", id)
}

pub(crate) fn class_of(profile: &str, id: &str) -> Class {
    Profile::shipped(profile).unwrap().class(id).unwrap().clone()
}

pub(crate) fn parcels(ids: &[&str]) -> Vec<ParcelId> {
    ids.iter().map(|&id| ParcelId::new(id)).collect()
}

pub(crate) fn parcel(shares: Vec<ShareFacts>) -> ParcelFacts {
    let own = shares.iter().fold(Hectares::ZERO, |sum, share| sum + share.hectares);
    ParcelFacts {
        parcel: ParcelId::new("100"),
        owner: Some("A. Fielding".to_owned()),
        owned_since: None,
        own_ha: own,
        area_ha: own,
        missing_ha: Hectares::ZERO,
        entirely_outside: false,
        frontage: Vec::new(),
        assessments: Vec::new(),
        members: [].into(),
        also_owned: Vec::new(),
        shares,
        piped: Vec::new(),
        cell: metres(2.0),
        other_destination_beside: false,
        elevation_rmse: Some(metres(0.1)),
        boundary_accuracy: metres(2.0),
        abut_tolerance: metres(2.0),
    }
}

/// A share whose path meets nothing and leaves the data.
pub(crate) fn share(number: u32, ha: f64) -> ShareFacts {
    ShareFacts {
        share: number,
        hectares: hectares(ha),
        outlets: Vec::new(),
        also_met: Vec::new(),
        lands: Vec::new(),
        end: PathEnd::Edge,
        marked_channel: None,
        leaving_area: Hectares::ZERO,
        within_a_cell_of_line: false,
        path: metres(400.0),
        leaving_level: Some(metres(102.0)),
        fall: Some(metres(2.0)),
        deepest_fill: Metres::ZERO,
        filled: None,
        over_suspected_culvert: false,
        divide_height: None,
        is_remainder: false,
        constraints: Vec::new(),
    }
}

/// A hundred metres on some land.
pub(crate) fn on(land: Land) -> LandOnPath {
    LandOnPath { land, metres: metres(100.0), carriers: vec![None] }
}

/// The same share with one more outlet on its path, after crossing these parcels.
pub(crate) fn meets(mut share: ShareFacts, feature: &str, class: &str, crossed: &[&str]) -> ShareFacts {
    if share.outlets.is_empty() {
        share.lands = parcels(crossed).into_iter().map(|parcel| on(Land::Parcel(parcel))).collect();
    }
    share.outlets.push(OutletOnPath {
        feature: feature.to_owned(),
        name: None,
        class: class.to_owned(),
        crossed_before: parcels(crossed),
        reached_on_own_land: crossed.is_empty(),
        same_channel_as: Vec::new(),
    });
    share
}

/// The same share with a feature that is no lawful outlet on its path.
pub(crate) fn runs_in(mut share: ShareFacts, feature: &str, class: &str) -> ShareFacts {
    share.also_met.push(FeatureMet {
        feature: feature.to_owned(),
        name: None,
        class: class.to_owned(),
        crossed_before: Vec::new(),
    });
    share
}

pub(crate) fn at(distance: f64, feature: &str, class: &str) -> Frontage {
    Frontage {
        feature: feature.to_owned(),
        name: None,
        class: class.to_owned(),
        distance: metres(distance),
        length: metres(120.0),
        at_a_point: false,
        cut_off_by: None,
        lowest_ground: Some(metres(100.0)),
    }
}

pub(crate) fn member(feature: &str, is_named: bool, registered: Option<bool>) -> Membership {
    let parties = parcels(if is_named { &["100", "555"] } else { &["555"] });
    Membership { feature: feature.to_owned(), parties, runs_over: Vec::new(), agreed: None, registered }
}

/// What the schedule of a drain says.
pub(crate) fn assessment(drain: &str, assessed: Assessed) -> Assessment {
    Assessment { drain: drain.to_owned(), assessed }
}

pub(crate) fn assessed(ha: f64) -> Assessed {
    Assessed::Hectares(hectares(ha))
}
