//! Fall from each parcel to its outlet, available against needed.

use fallwright_network::{Feature, Party};

use super::checked::Fall;
use super::choices::Choices;
use super::default_used::Assumed;
use super::structure::lidar_doubt_m;
use crate::study::Study;
use fallwright_case::{LevelKind, LevelPlace};
use fallwright_units::{ParcelIx, ShareIx, WaterwayIx};
use typed_index_collections::{TiVec, ti_vec};

/// How far a water level may lie from where the path meets the outlet, metres (our choice).
const WATER_NEAR_M: f64 = 50.0;

/// The fall along a parcel's main path.
#[derive(Clone, Debug, PartialEq)]
pub struct ParcelFall {
    pub path_m: f64,
    pub fall: Fall,
    pub outlet_level: OutletLevel,
}

/// What the level at an outlet is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutletLevel {
    SurveyedWater,
    Ground,
}

impl OutletLevel {
    pub const fn code(self) -> &'static str {
        match self {
            Self::SurveyedWater => "surveyed_water",
            Self::Ground => "ground",
        }
    }
}

/// Needed is the path at the least grade of a main, the depth of the main where it leaves, and the outlet's height above
/// the low water. Available is the parcel's low ground, less the water surveyed at the outlet or else the ground there, which
/// in a channel may be the water or the grass and not the bed.
///
/// `None` where the path meets no lawful outlet or the case states no accuracy of its elevation.
pub(super) fn parcel_fall(
    study: &Study,
    choices: &Choices,
    (parcel, low_ground): (ParcelIx, Option<f64>),
    assumed: &mut Assumed,
) -> Option<ParcelFall> {
    study.shares[parcel].first()?;
    let trace = study.trace(parcel, ShareIx(0));
    trace.outlet?;
    let last = trace.last;
    let defaults = choices.defaults;
    let (grade, depth, above) =
        (&defaults.least_main_grade_percent, &defaults.main_depth, &defaults.outlet_above_low_water);
    let grade_percent = choices.default("least_main_grade_percent", grade, grade.value, assumed);
    let depth_m = choices.default("main_depth_m", depth, depth.value.metres(), assumed).metres();
    let above_m = choices.default("outlet_above_low_water_m", above, above.value.metres(), assumed).metres();
    let path_m = trace.length_m();
    let water = match trace.outlet {
        Some(Feature::Waterway(waterway)) => water_m(study, waterway, (last.x, last.y)),
        _ => None,
    };
    let doubt_m = lidar_doubt_m(study)?;
    // One surveyed level and one lidar height: only one of the two errors is left.
    let doubt_m = if water.is_some() { doubt_m / std::f64::consts::SQRT_2 } else { doubt_m };
    let available_m = low_ground? - water.unwrap_or_else(|| f64::from(study.setting.ground[last.cell]));
    Some(ParcelFall {
        path_m,
        fall: Fall {
            available_m,
            needed_m: path_m * grade_percent / 100.0 + depth_m + above_m,
            doubt_m: Some(doubt_m),
        },
        outlet_level: if water.is_some() { OutletLevel::SurveyedWater } else { OutletLevel::Ground },
    })
}

/// The low ground of every parcel: that above which 95 % of its cells outside mapped channels lie. The rest is left to
/// furrows and ditches that no layer maps (our choice).
pub(super) fn low_ground(study: &Study) -> TiVec<ParcelIx, Option<f64>> {
    let mut by_parcel: TiVec<ParcelIx, Vec<f32>> = ti_vec![Vec::new(); study.inputs.parcels.len()];
    for cell in study.setting.parties.cells() {
        let height = study.setting.ground[cell];
        if let Party::Parcel(parcel) = study.setting.parties.of(cell)
            && !height.is_nan()
            && study.setting.waterway_of(cell).is_none()
        {
            by_parcel[parcel].push(height);
        }
    }
    let low = |mut heights: Vec<f32>| {
        let rank = heights.len() / 20;
        (rank < heights.len()).then(|| f64::from(*heights.select_nth_unstable_by(rank, f32::total_cmp).1))
    };
    by_parcel.into_iter().map(low).collect()
}

fn water_m(study: &Study, waterway: WaterwayIx, (x, y): (f64, f64)) -> Option<f64> {
    let own = study.inputs.levels.iter().filter(|level| {
        level.kind == LevelKind::Water
            && level.place == LevelPlace::Waterway(waterway)
            && (level.x - x).hypot(level.y - y) <= WATER_NEAR_M
    });
    own.map(|level| level.level_m).min_by(f64::total_cmp)
}
