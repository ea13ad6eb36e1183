//! `terrain_changes.geojson`: where the conditioned surface departs from the ground.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct TerrainChangeProperties {
    pub change_id: String,
    /// `fill` or `cut`.
    pub kind: &'static str,
    pub depth_m: f64,
    pub volume_m3: f64,
    pub area_ha: f64,
    /// Of a cut, along its channel.
    pub length_m: Option<f64>,
    /// Of a fill: the level at which it spills.
    pub level_m: Option<f64>,
    /// Of a cut: the waterway whose bed was enforced.
    pub waterway_id: Option<String>,
    /// Hectares that drain through it.
    pub draining_ha: f64,
    /// Whether the water leaves the fill over a road: a culvert may be missing from the data.
    pub suspected_culvert: bool,
    /// Parcels with a share whose path to its outlet crosses it.
    pub parcels: Vec<String>,
}
