//! The table of choices for the capacity check. What it leaves out comes from the table of defaults.

use fallwright_hydraulics::{RainfallDistribution, StormMethod};

use super::source::Source;
use super::table::{Range, Table};

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
    pub pond_percent: Option<f64>,
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
            return_period_years: table.number("return_period_years", Range::AboveZeroUpTo(1e6)),
            drainage_coefficient_mm_per_day: table.number("drainage_coefficient_mm_per_day", Range::AboveZeroUpTo(1e4)),
            freeboard_m: table.number("freeboard_m", Range::UpTo(100.0)),
            runoff_coefficient: table.number("runoff_coefficient", Range::AboveZeroUpTo(1.0)),
            cover: table.text("cover"),
            pond_percent: table.number("pond_percent", Range::UpTo(5.0)),
            rainfall_distribution: table.choice("rainfall_distribution", distributions),
            soil: table.text("soil"),
        }
    }
}
