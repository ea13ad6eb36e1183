//! `paths.geojson`: the water path of every share, and of all piped water.

use schemars::JsonSchema;
use serde::Serialize;

use super::constraint::ConstraintItem;

/// One line for each share from its leaving point to the first lawful outlet, or to where the water ends; the remainder
/// of small groups has none. Then one for each pipe to which land of a parcel is drained, from where the pipe takes the water:
/// its first place on the parcel, else its upper end.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct PathProperties {
    /// Parcel that the water leaves
    pub parcel_id: String,
    /// Whether the water leaves over the surface or by a pipe
    pub water: WaterCode,
    /// Number of the share; null for piped water
    #[schemars(range(min = 1))]
    pub share: Option<u32>,
    /// Pipe that takes the water; null for the surface
    pub pipe_id: Option<String>,
    /// Whether this is the largest share; false for piped water
    pub main: bool,
    /// Own hectares of the share, or drained by the pipe
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// First lawful outlet met
    pub outlet_id: Option<String>,
    /// Its class
    pub outlet_class: Option<String>,
    /// Metres from the leaving point, or from where the pipe takes the water, to the end of the line
    #[schemars(range(min = 0))]
    pub path_m: f64,
    /// Metres of fall, on the ground as surveyed; the grade of a pipe may differ. A path that ends in a pipe ends on the straight line between the ground where the pipe's water goes in and where it comes out
    pub fall_m: f64,
    /// Ids of the parcels crossed, in order
    pub parcels_crossed: Vec<String>,
    /// Ids of the reaches from the one first entered to where the water leaves the data
    pub reaches: Vec<String>,
    /// Where the water ends at last: the edge of the elevation, a hole in it, a kept depression, or a lake without an outlet
    pub ends: PathEnd,
    /// Wetlands, regulated areas, fish habitat and utilities that the path meets, of the layers given; empty also where no layer of constraints is given
    pub constraints: Vec<ConstraintItem>,
}

/// The end of all flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum PathEnd {
    Edge,
    Hole,
    KeptDepression,
    ClosedLake,
}

/// How water leaves a parcel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum WaterCode {
    Surface,
    Piped,
}
