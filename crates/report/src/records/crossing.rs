//! `crossings.geojson`: every lot line that a path crosses before it meets a lawful outlet.

use schemars::JsonSchema;
use serde::Serialize;

use super::path::WaterCode;

/// Every lot line that the path of a share, or of piped water, crosses before it meets a lawful outlet, in order.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct CrossingProperties {
    /// Parcel that the water left
    pub parcel_id: String,
    /// Whether the water left over the surface or by a pipe
    pub water: WaterCode,
    /// Number of the share; null for piped water
    #[schemars(range(min = 1))]
    pub share: Option<u32>,
    /// Pipe that took the water; null for the surface
    pub pipe_id: Option<String>,
    #[serde(flatten)]
    pub crossing: LandCrossed,
}

/// One lot line crossed, whichever path it lies on.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct LandCrossed {
    /// Number of the crossing, downstream from 1
    #[schemars(range(min = 1))]
    pub order: u32,
    /// Kind of the land that the water leaves; unowned is land that no parcel and no road covers
    #[schemars(extend("enum" = ["parcel", "road", "unowned"]))]
    pub from_kind: &'static str,
    /// Id of that parcel or road; null for unowned land
    pub from_id: Option<String>,
    /// Kind of the land that the water enters
    #[schemars(extend("enum" = ["parcel", "road", "unowned"]))]
    pub to_kind: &'static str,
    /// Id of that parcel or road; null for unowned land
    pub to_id: Option<String>,
    /// Name of that road; null for other land and where none is given
    pub to_name: Option<String>,
    /// Authority of that road; null for other land and where none is given
    pub to_authority: Option<String>,
    /// Owner of that parcel as given
    pub to_owner: Option<String>,
    /// Metres from the leaving point, or from where the pipe takes the water
    #[schemars(range(min = 0))]
    pub distance_m: f64,
    /// Metres of the path on that land
    #[schemars(range(min = 0))]
    pub metres_on_land: f64,
    /// Fall of the ground as surveyed along the path on that land, metres; negative where it rises
    pub fall_m: Option<f64>,
    /// What carries the water over the line: overland, culvert, pipe, or the class of the waterway
    pub carried_by: String,
    /// Id of the waterway or structure
    pub carrier_id: Option<String>,
    /// Ground as surveyed at the crossing, metres above the datum of the elevation
    pub ground_m: Option<f64>,
    /// Who may do maintenance on what carries the water, in plain words
    pub maintained_by: String,
    /// Who is notified before work on it begins, in plain words, marked where that is not confirmed; common practice,
    /// no source, where no class of the rule profile says
    pub notified: String,
}
