//! `reaches.geojson`: mapped waterways between junctions and structures.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct ReachProperties {
    pub reach_id: String,
    pub waterway_id: String,
    pub name: Option<String>,
    pub class: String,
    pub also: Vec<StatusItem>,
    pub from_node: String,
    pub to_node: String,
    pub to_reach: Option<String>,
    pub length_m: f64,
    /// Ground as surveyed at the upper and lower end.
    pub ground_up_m: Option<f64>,
    pub ground_down_m: Option<f64>,
    /// Hectares draining over the surface to the lower end.
    pub surface_ha: f64,
    /// Hectares drained by pipe whose water passes.
    pub piped_ha: f64,
}

/// Another waterway that runs in the same channel.
#[derive(Clone, Debug, Serialize)]
pub struct StatusItem {
    pub waterway_id: String,
    pub class: String,
}
