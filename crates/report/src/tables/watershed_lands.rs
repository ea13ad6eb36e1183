//! `watershed_lands.csv`: every land of a watershed beside the drain's schedule.

use schemars::JsonSchema;
use serde::Serialize;

use fallwright_study::{LandInWatershed, Study, WatershedLand};

use super::cells::{Decimal, Text};
use super::rows::rows_csv;
use crate::layers::lands::land_item;
use crate::record_schema::or_null;
use crate::records::land::LandItem;
use crate::rounded::hectares;

/// A row for each land with water in the watershed and each land of the schedule.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct WatershedLandRow {
    /// Kind of land: parcel, road, or unowned for land of neither; empty for an id of the schedule that neither layer has
    #[schemars(extend("enum" = or_null(["parcel", "road", "unowned"])))]
    pub kind: Option<&'static str>,
    /// Id of the parcel or road; empty for unowned land
    pub id: Option<Text>,
    /// Name of the road, where one is given
    pub name: Option<Text>,
    /// Authority of the road, where one is given
    pub authority: Option<Text>,
    /// Owner as given
    pub owner: Option<Text>,
    /// Hectares that drain over the surface
    pub surface_ha: Decimal,
    /// Hectares that drain by pipe
    pub piped_ha: Decimal,
    /// Hectares that drain over the surface or by pipe, each piece of land once
    pub drains_ha: Decimal,
    /// Whether the watershed meets the edge of the elevation on it
    pub meets_edge: bool,
    /// Hectares of the parcel without elevation
    pub unknown_ha: Decimal,
    /// Hectares assessed for outlet; empty where the schedule does not list the land, or for benefit alone
    pub assessed_ha: Option<Decimal>,
    /// Measured less assessed hectares; empty where not assessed
    pub measured_less_assessed_ha: Option<Decimal>,
    /// Comparison of watershed, schedule and parcel layer
    pub compared: &'static str,
}

pub(crate) fn lands_csv(study: &Study, lands: &[LandInWatershed]) -> String {
    rows_csv(lands.iter().map(|land| {
        let ((kind, id, name, authority), owner) = match &land.land {
            &WatershedLand::Party(party) => {
                let LandItem { kind, id, name, authority } = land_item(study, party);
                ((Some(kind), id, name, authority), study.party_owner(party))
            }
            WatershedLand::OnlyInSchedule(id) => ((None, Some(id.clone()), None, None), None),
        };
        let difference = land.assessed_ha.map(|assessed| hectares(land.drains_ha - assessed));
        WatershedLandRow {
            kind,
            id: id.map(Into::into),
            name: name.map(Into::into),
            authority: authority.map(Into::into),
            owner: owner.map(Into::into),
            surface_ha: Decimal(land.surface_ha),
            piped_ha: Decimal(land.piped_ha),
            drains_ha: Decimal(land.drains_ha),
            meets_edge: land.meets_edge,
            unknown_ha: Decimal(land.unknown_ha),
            assessed_ha: land.assessed_ha.map(Decimal),
            measured_less_assessed_ha: difference.map(Decimal),
            compared: land.compared.code(),
        }
    }))
}
