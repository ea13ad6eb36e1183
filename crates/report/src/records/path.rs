//! `paths.geojson`: the water path of every share.

use schemars::JsonSchema;
use serde::Serialize;

/// One line for each share from its leaving point to the first lawful outlet, or to where the water ends; the remainder
/// of small groups has none.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct PathProperties {
    /// Parcel that the water leaves
    pub parcel_id: String,
    /// Number of the share
    #[schemars(range(min = 1))]
    pub share: u32,
    /// Whether this is the largest share
    pub main: bool,
    /// Own hectares of the share
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// First lawful outlet met
    pub outlet_id: Option<String>,
    /// Its class
    pub outlet_class: Option<String>,
    /// Metres from the leaving point to the end of the line
    #[schemars(range(min = 0))]
    pub path_m: f64,
    /// Metres of fall, on the ground as surveyed
    pub fall_m: f64,
    /// Ids of the parcels crossed, in order
    pub parcels_crossed: Vec<String>,
    /// Ids of the reaches from the one first entered to where the water leaves the data
    pub reaches: Vec<String>,
    /// Where the water ends at last: the edge of the elevation, a hole in it, a kept depression, or a lake without an outlet
    pub ends: PathEnd,
}

/// The end of all flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum PathEnd {
    Edge,
    Hole,
    KeptDepression,
    ClosedLake,
}
