//! `watersheds.geojson` of the main job, `watershed.geojson` of one outlet.

use schemars::JsonSchema;
use serde::Serialize;

/// The land whose water meets each lawful outlet first.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WatershedProperties {
    /// Id of the waterway or enclosed drain
    pub outlet_id: String,
    /// Its name as given
    pub name: Option<String>,
    /// Its class
    pub class: String,
    /// Hectares whose water meets this outlet before any other
    #[schemars(range(min = 0))]
    pub area_ha: f64,
}

/// The watershed of one outlet or point: the whole, and for a waterway each of its reaches.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WatershedPartProperties {
    /// The whole watershed; the land of one reach; or, for a point on a waterway, the land that joins that waterway
    /// farther down, which is not part of the whole
    #[schemars(extend("enum" = ["whole", "reach", "downstream"]))]
    pub part: &'static str,
    /// Id of the waterway, culvert or pipe; null for a point
    pub outlet_id: Option<String>,
    /// Id of the reach; null where a structure takes in the channel's water in its first cell, so that there is none
    pub reach_id: Option<String>,
    /// Hectares of the whole watershed; for a reach, of the land that enters it and no reach of the same waterway above
    /// it
    #[schemars(range(min = 0))]
    pub surface_ha: f64,
    /// Hectares drained by pipe to it
    #[schemars(range(min = 0))]
    pub piped_ha: f64,
    /// Whether the watershed meets the edge of the elevation, so that land outside may drain to it
    pub meets_edge: bool,
}
