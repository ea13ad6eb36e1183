//! `watershed_lands.csv`: every land of a watershed beside the drain's schedule.

use schemars::JsonSchema;
use serde::Serialize;

use fallwright_study::{LandInWatershed, Study};

use super::{Decimal, Text, rows_csv};
use crate::hectares;
use crate::words::watershed_land;

/// A row for each land with water in the watershed and each land of the schedule.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct WatershedLandRow {
    /// A parcel's id, `road` or `unowned`
    pub parcel_id: Text,
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
    /// Hectares assessed; empty where the schedule does not list the land
    pub assessed_ha: Option<Decimal>,
    /// Measured less assessed hectares; empty where not assessed
    pub measured_less_assessed_ha: Option<Decimal>,
    /// Comparison of watershed, schedule and parcel layer
    pub compared: &'static str,
}

pub(crate) fn lands_csv(study: &Study, lands: &[LandInWatershed]) -> String {
    rows_csv(lands.iter().map(|land| {
        let (id, owner) = watershed_land(study, &land.land);
        let difference = land.assessed_ha.map(|assessed| hectares(land.drains_ha - assessed));
        WatershedLandRow {
            parcel_id: id.into(),
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
