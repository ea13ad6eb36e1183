//! `crossings.geojson`: every lot line that a share's path crosses before it meets a lawful outlet.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct CrossingProperties {
    pub parcel_id: String,
    pub share: u32,
    /// From 1, in order downstream.
    pub order: u32,
    /// A parcel's id, `road` or `unowned`.
    pub from: String,
    pub to: String,
    pub to_owner: Option<String>,
    pub distance_m: f64,
    pub metres_on_land: f64,
    /// `overland`, `culvert`, `pipe` or the class of the waterway.
    pub carried_by: String,
    pub carrier_id: Option<String>,
    pub ground_m: Option<f64>,
    pub maintained_by: String,
}
