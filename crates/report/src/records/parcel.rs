//! `parcels.geojson`: every parcel's standing.

use schemars::JsonSchema;
use serde::Serialize;

use super::constraint::ConstraintItem;
use super::land::LandItem;
use super::path::{PathEnd, WaterCode};

/// Every parcel with its standing, one polygon each, in the order of their ids.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ParcelProperties {
    /// Parcel id as given; text
    pub parcel_id: String,
    /// Owner as given, co-owners after a semicolon
    pub owner: Option<String>,
    /// Legal description as given
    pub legal: Option<String>,
    /// Area of the geometry, hectares
    #[schemars(range(min = 0))]
    pub area_ha: f64,
    /// Hectares of the cells of the parcel that have an elevation
    #[schemars(range(min = 0))]
    pub own_ha: f64,
    /// Hectares of other land whose water crosses the parcel
    #[schemars(range(min = 0))]
    pub run_on_ha: f64,
    /// Hectares whose water touches the parcel, its own included, each counted once
    #[schemars(range(min = 0))]
    pub contributing_ha: f64,
    /// Own hectares drained by pipe
    #[schemars(range(min = 0))]
    pub piped_ha: f64,
    /// Finding for the parcel
    #[schemars(extend("enum" = ["right", "right_in_part", "acquire", "undecided"]))]
    pub standing: &'static str,
    /// Own hectares with a right of drainage indicated by the data given
    #[schemars(range(min = 0))]
    pub right_ha: f64,
    /// Of the hectares with a right, those presumed assessed: they lie on a drain whose schedule is not supplied
    #[schemars(range(min = 0))]
    pub presumed_ha: f64,
    /// Own hectares for which an outlet must be acquired
    #[schemars(range(min = 0))]
    pub acquire_ha: f64,
    /// Own hectares that the data cannot decide
    #[schemars(range(min = 0))]
    pub undecided_ha: f64,
    /// How the water leaves, in shares, largest first
    pub shares: Vec<ShareItem>,
    /// Strongest class that a right rests on, by the order of the profile
    pub basis: Option<String>,
    /// All classes that a right rests on
    pub bases: Vec<String>,
    /// First lawful outlet downstream on the main path, whether or not the parcel has a right to it
    pub outlet_id: Option<String>,
    /// Class of that outlet
    pub outlet_class: Option<String>,
    /// Metres along the main path from the leaving point to the outlet or to where the water ends
    pub path_m: Option<f64>,
    /// Metres of fall along it, on the ground as surveyed
    pub fall_m: Option<f64>,
    /// Ids of the parcels that the main path crosses before the outlet, in order
    pub parcels_crossed: Vec<String>,
    /// Land whose water touches this parcel, with its hectares; sums to `run_on_ha`
    pub receives_from: Vec<Received>,
    /// Parcels whose piped water crosses this parcel, under it or over it, before its first lawful outlet, with the
    /// hectares drained by that pipe
    pub receives_piped_from: Vec<ReceivedPiped>,
    /// Confidence in the finding: low where shares of low confidence hold more than the profile's fraction (a tenth) of
    /// the hectares, else medium where those of low or medium confidence do; no higher than a reason that belongs to no
    /// one share leaves it
    #[schemars(extend("enum" = ["high", "medium", "low"]))]
    pub confidence: &'static str,
    /// Codes of the reasons for the finding and its confidence
    pub reasons: Vec<&'static str>,
    /// The same reasons in words, with their hectares where they have some
    pub reason_texts: Vec<String>,
    /// What to inspect or measure in the field to settle the doubts
    pub field_checks: Vec<&'static str>,
    /// What the finding rests on
    pub evidence: Vec<EvidenceItem>,
    /// For each drain with a schedule that lists the parcel or to which some of its water goes: what is assessed beside
    /// what is measured
    pub schedule: Vec<ScheduleItem>,
    /// For each pipe to which land of the parcel is drained: where its water goes, under whose land, and whether it may; two
    /// records share a pipe where only part of its water has a right. The same hectares are among those of the shares
    pub piped: Vec<PipedItem>,
    /// Ways to acquire an outlet where some share must, or to get a permission that the way to an outlet needs
    pub ways_to_acquire: Vec<WayItem>,
    /// Wetlands, regulated areas, fish habitat and utilities on the parcel or met by its main path, of the layers given; empty also where no layer of constraints is given
    pub constraints: Vec<ConstraintItem>,
    /// What to do next and whom to ask
    pub next_step: String,
    /// Whether every link down to the outlet is sufficient; not checked where data are missing for one of them
    #[schemars(extend("enum" = ["sufficient", "insufficient", "not_checked"]))]
    pub sufficiency: &'static str,
    /// Reach, culvert or pipe that decides: the worst of the insufficient ones, else the first that could not be
    /// checked, else the one with the highest ratio of flow to capacity; null where the water meets none
    pub limiting_reach: Option<String>,
    /// Caution of every output
    pub caution: &'static str,
}

/// One share of the parcel's water.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ShareItem {
    /// Number of the share, 1 for the largest; two records share a number where only part of a share has a right
    #[schemars(range(min = 1))]
    pub share: u32,
    /// Own hectares of the share
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// Finding for the share
    #[schemars(extend("enum" = ["right", "acquire", "undecided"]))]
    pub standing: &'static str,
    /// Class of the feature that the right rests on
    pub basis: Option<String>,
    /// First lawful outlet downstream of the leaving point
    pub outlet_id: Option<String>,
    /// Longitude and latitude, degrees on WGS 84, where most of the share leaves the parcel; null for the remainder of
    /// small groups
    pub leaving_point: Option<[f64; 2]>,
    /// The lowest that any reason of the share leaves
    #[schemars(extend("enum" = ["high", "medium", "low"]))]
    pub confidence: &'static str,
    /// Codes of the reasons for the finding
    pub reasons: Vec<&'static str>,
    /// Hectares of the share by field, where fields are given
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fields: Vec<FieldHectares>,
}

/// The part of a share in one field.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FieldHectares {
    /// Id of the field
    pub field_id: String,
    /// Hectares of the share in the field
    #[schemars(range(min = 0))]
    pub hectares: f64,
}

/// A land whose water arrives.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Received {
    #[serde(flatten)]
    pub land: LandItem,
    /// Its hectares whose water touches the parcel
    #[schemars(range(min = 0))]
    pub hectares: f64,
}

/// A parcel whose piped water comes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ReceivedPiped {
    #[serde(flatten)]
    pub land: LandItem,
    /// Its hectares drained by the pipe
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// Pipe that drains them
    pub pipe_id: String,
}

/// One thing that a finding rests on.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct EvidenceItem {
    /// Class or test of the profile
    pub rule: String,
    /// Source of the rule, and whether it was confirmed
    pub source: String,
    /// Mapped feature concerned
    pub feature_id: Option<String>,
    /// What was measured
    pub measure: &'static str,
    /// What was found
    #[schemars(extend("type" = ["number", "boolean", "string"]))]
    pub value: serde_json::Value,
    /// Unit of the value
    pub unit: Option<&'static str>,
}

/// A way to acquire an outlet.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WayItem {
    /// Code of the way
    pub way: &'static str,
    /// Name of the way in the profile
    pub label: String,
    /// Source of the rule, and whether it was confirmed
    pub source: String,
    /// Whether it serves water over the surface, piped water or both
    pub serves: Vec<WaterCode>,
    /// Numbers of the shares that it serves
    pub shares: Vec<u32>,
    /// Outlet to which it leads; null where the water meets no lawful one, and for the permission to use road ditches
    pub outlet_id: Option<String>,
    /// Hectares of the shares whose outlet it would make lawful; 0 for a permission, which is no right
    #[schemars(range(min = 0))]
    pub cures_ha: f64,
    /// Pipes whose water it serves
    pub pipes: Vec<String>,
    /// Hectares drained by these pipes whose outlet it would make lawful; they may be among those of the shares
    #[schemars(range(min = 0))]
    pub cures_piped_ha: f64,
    /// Ids of the parcels between, in order, the largest share first
    pub through: Vec<String>,
    /// Those who must agree, in the order of the way, then the parties of an agreement that is to be joined
    pub consents: Vec<ConsentItem>,
    /// For a petition that serves a share, an area that it could name: a basin, and in it the land that has the problem;
    /// null for other ways
    pub area: Option<AreaItem>,
    /// What has to be drawn up or obtained, in order
    pub documents: Vec<String>,
    /// What to do, in order
    pub steps: Vec<String>,
    /// What remains if somebody refuses
    pub if_refused: String,
}

/// Somebody who must agree.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ConsentItem {
    /// Whether the owner of a parcel, the authority of a road or the municipality of a drain must agree
    #[schemars(extend("enum" = ["parcel", "road", "unowned", "municipality"]))]
    pub kind: &'static str,
    /// Id of the parcel, the road or the municipality's drain
    pub id: Option<String>,
    /// Name of the road or the drain, where one is given
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Authority of the road, where one is given
    #[serde(skip_serializing_if = "Option::is_none")]
    pub authority: Option<String>,
    /// Owner of the parcel
    pub owner: Option<String>,
    /// Metres across their land, on the longest of the paths; null where the water does not cross it
    #[schemars(range(min = 0))]
    pub metres: Option<f64>,
}

/// An area requiring drainage.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct AreaItem {
    /// Hectares without a right whose water comes to the outlet at the same place
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// All hectares that drain through that place
    #[schemars(range(min = 0))]
    pub basin_ha: f64,
    /// The parcels with such land, with their hectares without a right there
    pub parcels: Vec<ParcelHectares>,
}

/// A parcel with hectares.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ParcelHectares {
    /// Id of the parcel
    pub parcel_id: String,
    /// Its hectares, as the list defines them
    #[schemars(range(min = 0))]
    pub hectares: f64,
}

/// What a drain's schedule assesses beside what is measured.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct ScheduleItem {
    /// Drain
    pub drain_id: String,
    /// How the parcel stands to the drain: on it or draining to it, and whether its schedule assesses the parcel
    #[schemars(extend("enum" = ["on_drain_assessed", "on_drain_not_assessed", "assessed_not_touching", "draining_not_assessed", "assessed_not_draining", "assessed_for_benefit_only"]))]
    pub case: &'static str,
    /// Hectares assessed; null where the schedule does not list the parcel
    #[schemars(range(min = 0))]
    pub assessed_ha: Option<f64>,
    /// Own hectares whose surface water meets the drain
    #[schemars(range(min = 0))]
    pub draining_ha: f64,
    /// Own hectares brought to the drain by pipe whose surface water goes elsewhere
    #[schemars(range(min = 0))]
    pub piped_in_ha: f64,
    /// Measured less assessed; null where not assessed
    pub difference_ha: Option<f64>,
    /// Whether the difference is within the accuracy of watershed areas that the profile states; null where not
    /// assessed
    pub within_accuracy: Option<bool>,
    /// Land crossed on the way to the drain where it is the first lawful outlet, in order
    pub through: Vec<LandItem>,
}

/// Where the water of piped land goes, and whether it may.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PipedItem {
    /// Pipe
    pub pipe_id: String,
    /// Own hectares drained by it
    #[schemars(range(min = 0))]
    pub hectares: f64,
    /// Of them, whose surface water goes to another outlet: taken where it would not naturally go
    #[schemars(range(min = 0))]
    pub leaving_watershed_ha: f64,
    /// Finding for the piped water
    #[schemars(extend("enum" = ["right", "acquire", "undecided"]))]
    pub standing: &'static str,
    /// Class under which the parcel has a right to an outlet that the piped water meets; null where none
    pub basis: Option<String>,
    /// First lawful outlet that the piped water meets
    pub outlet_id: Option<String>,
    /// Metres from where the pipe takes the water to that outlet, or to where the water ends
    #[schemars(range(min = 0))]
    pub path_m: f64,
    /// Where the water ends at last: the edge of the elevation, a hole in it, or a kept depression
    pub ends: PathEnd,
    /// Land of others under and over which the water goes before that outlet, in order, each once
    pub lands_crossed: Vec<LandMetres>,
    /// The lowest that any reason leaves
    #[schemars(extend("enum" = ["high", "medium", "low"]))]
    pub confidence: &'static str,
    /// Codes of the reasons for the finding
    pub reasons: Vec<&'static str>,
}

/// A land with the metres of a path on it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct LandMetres {
    #[serde(flatten)]
    pub land: LandItem,
    /// Metres of the path under or over it
    #[schemars(range(min = 0))]
    pub metres: f64,
}
