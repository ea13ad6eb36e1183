//! `watershed_parcels.csv`: the land of every part of a watershed.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Decimal, Text};

/// A row for each land and part of the watershed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WatershedParcelRow {
    /// A parcel's id, `road` or `unowned`
    pub parcel_id: Text,
    /// Owner as given
    pub owner: Option<Text>,
    /// Part of the watershed
    pub part: &'static str,
    /// Id of the reach, for the land of one
    pub reach_id: Option<Text>,
    /// Hectares that drain over the surface
    pub surface_ha: Decimal,
    /// Hectares that drain by pipe
    pub piped_ha: Decimal,
    /// Whether the watershed meets the edge of the elevation on it
    pub meets_edge: bool,
}
