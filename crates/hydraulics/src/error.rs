//! What is wrong with a number.

use thiserror::Error;

/// A value outside the range in which a formula means something.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("{quantity} is {found}, expected {expected}")]
pub struct OutOfRange {
    pub quantity: &'static str,
    pub found: f64,
    pub expected: &'static str,
}

impl OutOfRange {
    /// The value, where it is finite and more than 0.
    pub(crate) fn unless_positive(quantity: &'static str, found: f64) -> Result<f64, Self> {
        if found.is_finite() && found > 0.0 {
            Ok(found)
        } else {
            Err(Self { quantity, found, expected: "a finite number above 0" })
        }
    }

    /// The value, where it lies between two limits, both included.
    pub(crate) fn unless_within(
        quantity: &'static str,
        found: f64,
        range: std::ops::RangeInclusive<f64>,
        expected: &'static str,
    ) -> Result<f64, Self> {
        if range.contains(&found) { Ok(found) } else { Err(Self { quantity, found, expected }) }
    }
}

/// More flow than a closed section carries with a free surface, or than an open one carries without overflowing.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("a flow of {flow} m³/s, and the section carries {capacity} m³/s at most")]
pub struct TooMuch {
    pub flow: f64,
    pub capacity: f64,
}
