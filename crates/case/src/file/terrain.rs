//! The `[terrain]` table.

use std::path::PathBuf;

use fallwright_geodata::{LARGEST_CELL_M, Resampling, Warp};
use fallwright_units::VerticalUnit;

use super::range::Range;
use super::source::Source;
use super::table::Table;

/// The longest barrier that may be cut, in metres (our choice, no source).
pub const LONGEST_CUT_M: f64 = 60.0;
/// The deepest cut through a barrier, in metres (our choice, no source).
pub const DEEPEST_CUT_M: f64 = 3.0;
/// More than the length or depth of any barrier, in metres: a larger number is a slip (our choice, no source).
const MOST_CUT_M: f64 = 1e6;
/// More than the error of any survey of heights, in metres (our choice, no source).
const MOST_RMSE_M: f64 = 100.0;
/// More than any depression's metres, hectares or cubic metres (our choice, no source).
const MOST_KEPT: f64 = 1e9;

/// The elevation model and how to condition it.
#[derive(Clone, Debug, PartialEq)]
pub struct Terrain {
    /// Paths and glob patterns as the case gives them.
    pub elevation_given: Vec<String>,
    /// The files they stand for, each once.
    pub elevation: Vec<PathBuf>,
    /// Needed where the raster does not say.
    pub vertical_unit: Option<VerticalUnit>,
    /// When the elevation was surveyed.
    pub flown: Option<String>,
    /// Vertical accuracy as the survey states it (root mean square error), in metres.
    pub rmse_z_m: Option<f64>,
    pub longest_cut_m: f64,
    pub deepest_cut_m: f64,
    /// Real closed depressions: lakes, ponds, potholes.
    pub keep_depressions: Option<KeptDepressions>,
    /// Depressions of this size are real too, unless a road holds their water back.
    pub keep_larger: Option<KeptSize>,
    pub warp: Option<Warp>,
}

pub(super) fn read(table: &mut Table) -> Terrain {
    let (elevation_given, elevation) = table.required_files("elevation");
    let units = [VerticalUnit::Metre, VerticalUnit::InternationalFoot, VerticalUnit::UsSurveyFoot];
    Terrain {
        elevation_given,
        elevation,
        vertical_unit: table.choice("vertical_unit", units.map(|unit| (unit.name(), unit))),
        flown: table.text("flown"),
        rmse_z_m: table.number("rmse_z_m", Range::UpTo(MOST_RMSE_M)),
        longest_cut_m: table.number_or("longest_cut_m", Range::UpTo(MOST_CUT_M), LONGEST_CUT_M),
        deepest_cut_m: table.number_or("deepest_cut_m", Range::UpTo(MOST_CUT_M), DEEPEST_CUT_M),
        keep_depressions: table
            .polygon_layer("keep_depressions")
            .map(|(source, layer)| KeptDepressions { source, layer }),
        keep_larger: table.table("keep_larger", kept_size),
        warp: table.table("warp", warp),
    }
}

/// A layer of polygons, each round a depression that is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptDepressions {
    pub source: Source,
    pub layer: Option<String>,
}

/// A depression is kept where it exceeds all that is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KeptSize {
    pub depth_m: f64,
    pub area_ha: f64,
    pub volume_m3: f64,
}

fn kept_size(table: &mut Table) -> KeptSize {
    let mut least = |key| table.number_or(key, Range::UpTo(MOST_KEPT), 0.0);
    KeptSize { depth_m: least("depth_m"), area_ha: least("area_ha"), volume_m3: least("volume_m3") }
}

/// All three keys must be there: a DEM is never warped in a way the case does not say.
fn warp(table: &mut Table) -> Warp {
    let methods = Resampling::ALL.map(|method| (method.name(), method));
    let crs = table.required_text("crs");
    let cell_m = table.required_number("cell_m", Range::AboveZeroUpTo(LARGEST_CELL_M));
    let method = table.required_choice("method", methods).unwrap_or(Resampling::Bilinear);
    Warp { crs, cell_m, method }
}
