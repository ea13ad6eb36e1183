//! `fall.csv`: the fall of every parcel to its outlet.

use schemars::JsonSchema;
use serde::Serialize;

use fallwright_study::{Capacity, Fall, ParcelSufficiency, Study};
use fallwright_units::ParcelIx;

use super::cells::{Decimal, Text};
use super::rows::rows_csv;
use crate::rounded::metres;

/// A row for each parcel: sufficiency and fall of its main path.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct FallRow {
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

/// One row a parcel: what decides, and the fall to its outlet.
pub(crate) fn fall_csv(study: &Study, Capacity { check, falls, .. }: &Capacity) -> String {
    let of_parcel = |(parcel, verdict): (ParcelIx, &ParcelSufficiency)| {
        let fall = &falls[parcel];
        let number = |value: Option<f64>| value.map(|value| Decimal(metres(value)));
        let of = fall.as_ref().map(|fall| fall.fall);
        FallRow {
            parcel_id: study.inputs.parcels[parcel].id.as_str().into(),
            sufficiency: verdict.sufficiency.code(),
            limiting_reach: verdict.limiting.as_ref().map(Into::into),
            path_m: number(fall.as_ref().map(|fall| fall.path_m)),
            fall_available_m: number(of.map(|fall| fall.available_m)),
            fall_needed_m: number(of.map(|fall| fall.needed_m)),
            fall_doubt_m: number(of.and_then(|fall| fall.doubt_m)),
            outlet_level: fall.as_ref().map(|fall| fall.outlet_level.code()),
            fall: of.map(Fall::code),
        }
    };
    rows_csv(check.parcels.iter_enumerated().map(of_parcel))
}
