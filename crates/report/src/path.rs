//! `paths.geojson`: the water path of every share.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct PathProperties {
    pub parcel_id: String,
    pub share: u32,
    /// Whether this is the parcel's largest share.
    pub main: bool,
    pub hectares: f64,
    pub outlet_id: Option<String>,
    pub outlet_class: Option<String>,
    pub path_m: f64,
    pub fall_m: f64,
    pub parcels_crossed: Vec<String>,
    /// Reaches from the one first entered to where water leaves the data.
    pub reaches: Vec<String>,
    /// Where the water ends at last: `edge`, `hole` or `kept_depression`.
    pub ends: &'static str,
}
