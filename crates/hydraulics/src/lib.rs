//! Hydraulics of rural drainage: plain numbers in, capacity, design flow, depth and velocity out.
//!
//! No files, no geometry, no knowledge of land or law. SI inside; US customary units come in and go out through the
//! quantities of the units crate, by exact factors. Formulas that were published in US customary units keep their
//! published coefficients and convert at their border.
//!
//! Reading order: [`Section`] and [`Roughness`] make a [`Channel`], which has a flow, a velocity, a normal depth
//! ([`Channel::normal_depth`]) and, with [`critical_depth`], a regime. [`drainage_flow`], [`removal_flow`], [`rational_flow`],
//! [`runoff_depth`] with [`peak_discharge`] say what must be carried. [`Culvert`] is a structure under a bank. [`Defaults`] is
//! the one table of default values.
//!
//! Results are for screening; a licensed engineer designs.

mod catalogue;
mod critical_depth;
mod culvert;
mod curve_number;
mod defaults;
mod drainage_coefficient;
mod error;
mod freeboard;
mod manning;
mod minimum_grade;
mod normal_depth;
mod peak_discharge;
mod rational;
mod removal_curve;
mod root;
mod roughness;
mod section;
mod time_of_concentration;
mod wrap;

pub use catalogue::next_size;
pub use critical_depth::critical_depth;
pub use culvert::{Barrel, Control, Culvert, Headwater, Inlet};
pub use curve_number::{CurveNumber, initial_abstraction, runoff_depth};
pub use defaults::{Cover, Defaults, DefaultsError, Material, Soil, Sourced, StormMethod};
pub use drainage_coefficient::{drainage_coefficient, drainage_flow};
pub use error::{OutOfRange, TooMuch};
pub use freeboard::freeboard;
pub use manning::Channel;
pub use minimum_grade::minimum_grade;
pub use peak_discharge::{RainfallDistribution, peak_discharge, pond_factor, unit_peak_discharge};
pub use rational::rational_flow;
pub use removal_curve::{Branch, join, removal_area, removal_flow};
pub use roughness::{Roughness, RoughnessStep, roughness_at};
pub use section::{Section, Wetted};
pub use time_of_concentration::{Surface, shallow_flow_time, sheet_flow_time, travel_time};

/// Standard gravity, m/s², exact by definition (3rd General Conference on Weights and Measures, 1901).
pub const GRAVITY: f64 = 9.806_65;
