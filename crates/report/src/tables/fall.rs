//! `fall.csv`: the fall of every parcel to its outlet.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Decimal, Text};

/// A row for each parcel: sufficiency and fall of its main path.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FallRow {
    /// Parcel id as given
    pub parcel_id: Text,
    /// Whether every link down to the outlet is sufficient
    #[schemars(extend("enum" = ["sufficient", "insufficient", "not_checked"]))]
    pub sufficiency: &'static str,
    /// Reach, culvert or pipe that decides
    pub limiting_reach: Option<Text>,
    /// Metres along the main path
    pub path_m: Option<Decimal>,
    /// Metres of fall along it
    pub fall_available_m: Option<Decimal>,
    /// Fall at which silt keeps moving, metres
    pub fall_needed_m: Option<Decimal>,
    /// The difference of two heights of the elevation lies within this of the truth in 95 of 100 cases, metres
    pub fall_doubt_m: Option<Decimal>,
    /// Level at the outlet: surveyed water or ground
    pub outlet_level: Option<&'static str>,
    /// Whether the available fall meets the needed fall; survey: cannot be confirmed from lidar alone
    pub fall: Option<&'static str>,
}
