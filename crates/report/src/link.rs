//! `links.geojson`: culverts, pipes and tile mains as they were used.

use serde::Serialize;

#[derive(Clone, Debug, Serialize)]
pub struct LinkProperties {
    pub link_id: String,
    /// `culvert` or `pipe`.
    pub kind: &'static str,
    pub class: Option<String>,
    /// Column and row, from 0 at the north-west corner.
    pub inlet_cell: [usize; 2],
    pub outlet_cell: [usize; 2],
    pub inlet_ground_m: f64,
    pub outlet_ground_m: f64,
    /// Hectares whose surface water enters at the inlet.
    pub surface_ha: f64,
    /// Hectares of tiled land that drain to it.
    pub piped_ha: f64,
}
