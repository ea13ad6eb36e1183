//! The constraints that paths and parcels meet, as records list them.

use std::collections::BTreeMap;

use fallwright_network::Path;
use fallwright_study::{ConstraintAlong, ConstraintExtent, ConstraintWithin, Study};
use fallwright_units::{ConstraintIx, ParcelIx, ShareIx};
use geo::MultiPolygon;

use crate::records::constraint::ConstraintItem;
use crate::rounded::{hectares, metres};
use crate::words::marked;

/// What a path of water meets, in the order of the case.
pub(crate) fn path_constraints(study: &Study, path: &Path) -> Vec<ConstraintItem> {
    study.constraints_on(path).iter().map(|met| along(study, met)).collect()
}

/// The same of a share's path, which is followed only where there is something to meet.
pub(crate) fn share_constraints(study: &Study, parcel: ParcelIx, share: ShareIx) -> Vec<ConstraintItem> {
    if study.inputs.constraints.is_empty() { Vec::new() } else { path_constraints(study, &study.path(parcel, share)) }
}

/// What lies on a parcel or is met by its main path, in the order of the case.
pub(crate) fn parcel_constraints(study: &Study, parcel: ParcelIx) -> Vec<ConstraintItem> {
    if study.inputs.constraints.is_empty() {
        return Vec::new();
    }
    let main = (!study.shares[parcel].is_empty()).then(|| study.path(parcel, ShareIx(0)));
    let met = main.map_or_else(Vec::new, |path| study.constraints_on(&path));
    let mut items: BTreeMap<ConstraintIx, ConstraintItem> =
        met.iter().map(|met| (met.constraint, along(study, met))).collect();
    for within in study.constraints_in(&study.inputs.parcels[parcel].shape) {
        set_extent(items.entry(within.constraint).or_insert_with(|| item(study, within.constraint)), within.extent);
    }
    items.into_values().collect()
}

/// What lies within an area, in the order of the case.
pub(crate) fn area_constraints(study: &Study, area: &MultiPolygon<f64>) -> Vec<ConstraintItem> {
    let within = study.constraints_in(area);
    let listed = |within: &ConstraintWithin| {
        let mut item = item(study, within.constraint);
        set_extent(&mut item, within.extent);
        item
    };
    within.iter().map(listed).collect()
}

fn set_extent(item: &mut ConstraintItem, extent: ConstraintExtent) {
    match extent {
        ConstraintExtent::Area(area) => item.hectares = Some(hectares(area.hectares())),
        ConstraintExtent::Line(length) => item.line_m = Some(metres(length.metres())),
    }
}

fn along(study: &Study, met: &ConstraintAlong) -> ConstraintItem {
    ConstraintItem { metres: metres(met.metres.metres()), places: met.places, ..item(study, met.constraint) }
}

/// A constraint of which nothing is measured yet.
fn item(study: &Study, constraint: ConstraintIx) -> ConstraintItem {
    let given = &study.inputs.constraints[constraint];
    let profile = &study.inputs.profile;
    ConstraintItem {
        kind: given.kind.clone(),
        id: given.id.clone(),
        name: given.name.clone(),
        class: given.class.clone(),
        metres: 0.0,
        places: 0,
        hectares: None,
        line_m: None,
        ask: profile.ask_about(&given.kind).to_owned(),
        source: profile.constraint(&given.kind).map(|rule| marked(&rule.source, rule.confirmed)),
    }
}
