//! `capacity.geojson`: every link of the cascade, with what it must carry and what it carries.

use schemars::JsonSchema;
use serde::Serialize;

use crate::record_schema::or_null;

/// Every reach, culvert and pipe of the cascade: the flow to carry, the capacity, and an adequate size where it is
/// insufficient. Sizes are for screening; a licensed engineer designs.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct CapacityProperties {
    /// Id of the reach, culvert or pipe
    pub link_id: String,
    /// Kind of link
    #[schemars(extend("enum" = ["reach", "culvert", "pipe"]))]
    pub kind: &'static str,
    /// Its class; null for culverts and pipes without one
    pub class: Option<String>,
    /// The link that takes its water next; null where none does
    pub next_link: Option<String>,
    /// Hectares whose surface water passes its lower end, or its inlet
    #[schemars(range(min = 0))]
    pub surface_ha: f64,
    /// Hectares drained by pipe whose water passes
    #[schemars(range(min = 0))]
    pub piped_ha: f64,
    /// Hectares that the what-if drains by pipe and whose water passes
    #[schemars(range(min = 0))]
    pub added_ha: f64,
    /// Tile design flow: drainage coefficient on the piped and the added hectares
    #[schemars(range(min = 0))]
    pub tile_flow_m3_per_s: f64,
    /// Which flow is checked: the tile design flow in pipes, a storm in open reaches and culverts; the two are never
    /// summed
    #[schemars(extend("enum" = ["tile", "storm"]))]
    pub regime: &'static str,
    /// Method by which the flow was computed
    #[schemars(extend("enum" = ["drainage_coefficient", "removal_curve", "rational", "curve_number"]))]
    pub method: &'static str,
    /// Of the storm; null where the method states none
    #[schemars(range(min = 0))]
    pub return_period_years: Option<f64>,
    /// Flow that is checked; a storm holds the tile flow only as far as its method does not
    #[schemars(range(min = 0))]
    pub flow_m3_per_s: Option<f64>,
    /// Capacity: of a pipe just full, of a culvert at the allowed headwater, of a reach with its freeboard kept, as
    /// surveyed or else as designed
    #[schemars(range(min = 0))]
    pub capacity_m3_per_s: Option<f64>,
    /// Capacity of the by-law's section with its freeboard kept
    #[schemars(range(min = 0))]
    pub design_capacity_m3_per_s: Option<f64>,
    /// Flow divided by capacity
    #[schemars(range(min = 0))]
    pub ratio: Option<f64>,
    /// In a full pipe, in a culvert by its full area, in a reach at normal depth
    #[schemars(range(min = 0))]
    pub velocity_m_per_s: Option<f64>,
    /// Normal depth in a reach, headwater above the inlet of a culvert
    #[schemars(range(min = 0))]
    pub water_depth_m: Option<f64>,
    /// Control of a culvert's headwater
    #[schemars(extend("enum" = or_null(["inlet", "outlet"])))]
    pub control: Option<&'static str>,
    /// Grade used in the calculation
    #[schemars(range(min = 0))]
    pub grade_percent: Option<f64>,
    /// Where the grade comes from
    #[schemars(extend("enum" = or_null(["surveyed_inverts", "layer_inverts", "surveyed_beds", "bylaw_profile", "layer_grade", "ground"])))]
    pub grade_source: Option<&'static str>,
    /// Least ground above a pipe's crown, by the surveyed ground; null without inverts
    pub cover_m: Option<f64>,
    /// Lower bank above the water of a reach; below 0 where it overflows
    pub freeboard_m: Option<f64>,
    /// How a pipe ends: its invert against the low water surveyed there
    #[schemars(extend("enum" = or_null(["free", "low", "submerged", "pumped"])))]
    pub outlet: Option<&'static str>,
    /// Fall of a pipe by its inverts, else by the ground
    pub fall_available_m: Option<f64>,
    /// Fall at which silt keeps moving
    #[schemars(range(min = 0))]
    pub fall_needed_m: Option<f64>,
    /// The difference of two heights of the elevation lies within this of the truth in 95 of 100 cases; null for
    /// inverts
    #[schemars(range(min = 0))]
    pub fall_doubt_m: Option<f64>,
    /// Whether the available fall meets the needed fall; survey: cannot be confirmed from lidar alone
    #[schemars(extend("enum" = or_null(["enough", "short", "survey"])))]
    pub fall: Option<&'static str>,
    /// Insufficient for one known cause; sufficient only if nothing is missing
    #[schemars(extend("enum" = ["sufficient", "insufficient", "not_checked"]))]
    pub sufficiency: &'static str,
    /// Why it is insufficient; overflows: a natural watercourse, which has no design
    #[schemars(extend("enum" = or_null(["undersized", "overflows", "silted", "undersized_or_silted", "submerged", "outlet_low"])))]
    pub cause: Option<&'static str>,
    /// Improvement where the design is too small, maintenance where it has silted
    #[schemars(extend("enum" = or_null(["improvement", "maintenance"])))]
    pub remedy: Option<&'static str>,
    /// Next adequate size of the catalogue (screening)
    #[schemars(range(min = 0))]
    pub next_diameter_mm: Option<f64>,
    /// Adequate bottom width at the same depth and side slopes (screening)
    #[schemars(range(min = 0))]
    pub next_bottom_m: Option<f64>,
    /// What to measure or state before the check is possible
    pub to_measure: Vec<String>,
    /// Defaults that the result rests on; run.json has their values and sources
    pub assumed: Vec<String>,
    /// Further remarks
    pub remarks: Vec<String>,
    /// One plain sentence
    pub next_step: String,
    /// Caution of every output
    pub caution: &'static str,
}
