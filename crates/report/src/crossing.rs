//! `crossings.geojson`: every lot line that a share's path crosses before it meets a lawful outlet.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct CrossingProperties {
    pub parcel_id: String,
    pub share: u32,
    #[serde(flatten)]
    pub crossing: LandCrossed,
}

/// One lot line crossed, whichever path it lies on.
#[derive(Clone, Debug, Serialize)]
pub struct LandCrossed {
    /// From 1, in order downstream.
    pub order: u32,
    /// A parcel's id, `road` or `unowned`.
    pub from: String,
    pub to: String,
    pub to_owner: Option<String>,
    pub distance_m: f64,
    pub metres_on_land: f64,
    /// On that land; negative where the ground rises along the path.
    pub fall_m: Option<f64>,
    /// `overland`, `culvert`, `pipe` or the class of the waterway.
    pub carried_by: String,
    pub carrier_id: Option<String>,
    pub ground_m: Option<f64>,
    pub maintained_by: String,
    /// Who is told before work on it begins.
    pub notified: String,
}
