//! The table of choices for the capacity check. What it leaves out comes from the table of defaults.

use fallwright_hydraulics::{RainfallDistribution, StormMethod};

use super::range::Range;
use super::source::Source;
use super::table::Table;

/// More years than any rainfall record bears out (our choice, no source).
const MOST_YEARS: f64 = 1e6;
/// More than any drain takes off the land in a day, in millimetres (our choice, no source).
const MOST_MM_PER_DAY: f64 = 1e4;
/// More than the depth of any channel, in metres (our choice, no source).
const MOST_FREEBOARD_M: f64 = 100.0;
/// No more runs off than falls (by definition).
const MOST_RUNOFF: f64 = 1.0;
/// The end of the table of pond factors (TR-55, table 4-2).
const MOST_POND_PERCENT: f64 = 5.0;
/// No ponds, where the case names none (our choice, no source).
const POND_PERCENT: f64 = 0.0;

/// How the capacity of the works is checked.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Capacity {
    /// A table of defaults in place of the shipped one.
    pub defaults: Option<Source>,
    pub method: Option<StormMethod>,
    pub return_period_years: Option<f64>,
    pub drainage_coefficient_mm_per_day: Option<f64>,
    /// Bank above the design water of an open channel, in metres.
    pub freeboard_m: Option<f64>,
    /// Of the rational method; nothing stands in for it.
    pub runoff_coefficient: Option<f64>,
    /// The land's cover, by its name in the table of defaults; nothing stands in for it.
    pub cover: Option<String>,
    /// Part of the land under ponds and swamps, spread over it.
    pub pond_percent: f64,
    pub rainfall_distribution: Option<RainfallDistribution>,
    /// What beds and trenches are dug in, by its name in the table of defaults; nothing stands in for it.
    pub soil: Option<String>,
}

impl Capacity {
    pub(super) fn read(table: &mut Table) -> Self {
        use RainfallDistribution::{I, Ia, Ii, Iii};
        use StormMethod::{CurveNumber, Rational, RemovalCurve};
        let methods = [RemovalCurve, Rational, CurveNumber].map(|method| (method.name(), method));
        let distributions = [I, Ia, Ii, Iii].map(|distribution| (distribution.name(), distribution));
        Self {
            defaults: table.optional_source("defaults"),
            method: table.choice("method", methods),
            return_period_years: table.number("return_period_years", Range::AboveZeroUpTo(MOST_YEARS)),
            drainage_coefficient_mm_per_day: table
                .number("drainage_coefficient_mm_per_day", Range::AboveZeroUpTo(MOST_MM_PER_DAY)),
            freeboard_m: table.number("freeboard_m", Range::UpTo(MOST_FREEBOARD_M)),
            runoff_coefficient: table.number("runoff_coefficient", Range::AboveZeroUpTo(MOST_RUNOFF)),
            cover: table.text("cover"),
            pond_percent: table.number_or("pond_percent", Range::UpTo(MOST_POND_PERCENT), POND_PERCENT),
            rainfall_distribution: table.choice("rainfall_distribution", distributions),
            soil: table.text("soil"),
        }
    }
}
