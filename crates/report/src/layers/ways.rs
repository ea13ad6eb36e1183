//! Ways to acquire an outlet, with the names of those who must agree.

use fallwright_law::{Consent, Consenting, Finding, Land, Water, Way};
use fallwright_network::Party;
use fallwright_study::{ParcelAccounts, PetitionArea, Study};
use fallwright_units::ParcelIx;

use super::lands::item_of_land;
use crate::records::land::LandItem;
use crate::records::parcel::{AreaItem, ConsentItem, ParcelHectares, WayItem};
use crate::records::path::WaterCode;
use crate::rounded::{hectares, metres};
use crate::words::{marked, step_sentences};

pub(crate) fn way_items(study: &Study, parcel: ParcelIx, finding: &Finding, accounts: &ParcelAccounts) -> Vec<WayItem> {
    finding.ways.iter().map(|way| way_item(study, parcel, way, accounts)).collect()
}

fn way_item(study: &Study, parcel: ParcelIx, way: &Way, accounts: &ParcelAccounts) -> WayItem {
    WayItem {
        way: way.way.code(),
        label: way.label.clone(),
        source: marked(&way.source, way.confirmed),
        serves: way.serves().map(water_code).collect(),
        shares: way.shares.clone(),
        outlet_id: way.outlet.as_ref().map(|outlet| outlet.feature.clone()),
        cures_ha: hectares(way.cures.hectares()),
        pipes: way.pipes.clone(),
        cures_piped_ha: hectares(way.cures_piped.hectares()),
        through: way.through().iter().map(ToString::to_string).collect(),
        consents: way.consents.iter().map(|consent| consent_item(study, consent)).collect(),
        area: accounts.petition_areas.of(study, parcel, way).map(|area| area_item(study, area)),
        documents: way.documents.clone(),
        steps: step_sentences(study, way),
        if_refused: way.if_refused.clone(),
    }
}

const fn water_code(water: Water) -> WaterCode {
    match water {
        Water::Surface => WaterCode::Surface,
        Water::Piped => WaterCode::Piped,
    }
}

fn area_item(study: &Study, PetitionArea { without_right, basin_cells }: PetitionArea) -> AreaItem {
    AreaItem {
        hectares: hectares(without_right.values().sum()),
        basin_ha: study.hectares(basin_cells),
        parcels: without_right
            .into_iter()
            .map(|(parcel, area)| ParcelHectares {
                parcel_id: study.inputs.parcels[parcel].id.to_string(),
                hectares: hectares(area),
            })
            .collect(),
    }
}

fn consent_item(study: &Study, consent: &Consent) -> ConsentItem {
    let owner = match &consent.who {
        Consenting::Land(Land::Parcel(id)) => {
            study.parcel_position(id.as_str()).and_then(|of| study.party_owner(Party::Parcel(of)))
        }
        Consenting::Land(_) | Consenting::Municipality { .. } => None,
    };
    let LandItem { kind, id, name, authority } = match &consent.who {
        Consenting::Land(land) => item_of_land(study, land),
        Consenting::Municipality { drain } => LandItem {
            kind: "municipality",
            id: Some(drain.feature.clone()),
            name: drain.name.clone(),
            authority: None,
        },
    };
    ConsentItem {
        kind,
        id,
        name,
        authority,
        owner: owner.map(ToOwned::to_owned),
        metres: consent.metres.map(|length| metres(length.metres())),
    }
}
