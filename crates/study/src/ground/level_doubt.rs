//! How far two levels must differ to say which is the higher.

use fallwright_case::Inputs;

/// Levels that differ by less say nothing about which way water runs, where the survey states no accuracy (our choice).
const LEVEL_DOUBT_M: f64 = 0.3;

/// A difference counts as real where it exceeds this many standard deviations (our choice).
pub(super) const STANDARD_DEVIATIONS_OF_DOUBT: f64 = 3.0;

/// In metres, by the accuracy that the survey states.
pub(super) fn level_doubt_m(inputs: &Inputs) -> f64 {
    inputs.case.terrain.rmse_z_m.map_or(LEVEL_DOUBT_M, |rmse| STANDARD_DEVIATIONS_OF_DOUBT * rmse)
}
