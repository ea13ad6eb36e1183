//! Outlines of labelled cells.

use std::collections::BTreeMap;

use fallwright_units::Frame;

use crate::GeodataError;

/// The outline of every label other than 0, in map coordinates; cells are joined across their sides, not corners.
pub fn outlines(_frame: &Frame, _labels: &[u32]) -> Result<BTreeMap<u32, geo::MultiPolygon<f64>>, GeodataError> {
    todo!()
}
