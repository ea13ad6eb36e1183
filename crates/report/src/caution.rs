//! The caution of every output.

/// What every output says.
pub const CAUTION: &str = "Screening only: not a survey, not a legal opinion. Only a court decides a right; confirm with the \
     municipality, local by-laws and licensed engineers and surveyors. Locate utilities and get permits before any digging.";
