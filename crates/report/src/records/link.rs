//! `links.geojson`: culverts, pipes and tile mains as they were used.

use schemars::JsonSchema;
use serde::Serialize;

/// Culverts, pipes and tile mains as they were used, from inlet to outlet.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LinkProperties {
    /// Id as given
    pub link_id: String,
    /// Kind of layer it came from
    #[schemars(extend("enum" = ["culvert", "pipe"]))]
    pub kind: &'static str,
    /// Its class, where given
    pub class: Option<String>,
    /// Column and row of the inlet, counted from 0 at the north-west corner
    pub inlet_cell: [usize; 2],
    /// Column and row of the place where its water comes to the surface, counted from 0 at the north-west corner
    pub outlet_cell: [usize; 2],
    /// Ground as surveyed at the inlet
    pub inlet_ground_m: f64,
    /// Ground as surveyed at the outlet
    pub outlet_ground_m: f64,
    /// The pipe that it joins between that one's ends, whose outlet is then its own
    pub joins: Option<String>,
    /// Hectares whose surface water goes through it: by its inlet and by those of the pipes that join it
    #[schemars(range(min = 0))]
    pub surface_ha: f64,
    /// Hectares of tiled land that drain straight to it
    #[schemars(range(min = 0))]
    pub piped_ha: f64,
}
