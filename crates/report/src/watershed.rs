//! `watersheds.geojson` of the main job, `watershed.geojson` of one outlet.

use serde::Serialize;

/// The land whose water meets a lawful outlet first.
#[derive(Clone, Debug, Serialize)]
pub struct WatershedProperties {
    pub outlet_id: String,
    pub name: Option<String>,
    pub class: String,
    /// Of the land that meets this outlet first.
    pub area_ha: f64,
}

/// The watershed of a point, a waterway or one of its reaches.
#[derive(Clone, Debug, Serialize)]
pub struct WatershedPartProperties {
    /// `whole`, `reach` or `downstream`.
    pub part: &'static str,
    pub outlet_id: Option<String>,
    pub reach_id: Option<String>,
    /// Hectares of surface watershed; for a reach, of the land that enters it from its sides and its head.
    pub surface_ha: f64,
    /// Hectares drained by pipe to it.
    pub piped_ha: f64,
    /// Whether its limit meets the edge of the elevation, so that land outside may drain to it.
    pub meets_edge: bool,
}
