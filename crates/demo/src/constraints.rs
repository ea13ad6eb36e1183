//! What works would meet: a wetland, the regulated area along the creek and a buried utility line.
//!
//! All of it is invented, as the township.

use geo::{LineString, Polygon};

use crate::channels::creek_valley;
use crate::geometry::{centimetres, line, outline};
use crate::plan::SIZE;

/// A constraint that is an area.
#[derive(Clone, Debug, PartialEq)]
pub struct ConstraintArea {
    pub id: &'static str,
    pub name: &'static str,
    pub outline: Polygon,
}

/// A buried line of a utility.
#[derive(Clone, Debug, PartialEq)]
pub struct Utility {
    pub id: &'static str,
    pub name: &'static str,
    /// What it carries.
    pub class: &'static str,
    pub line: LineString,
}

/// The regulated area reaches this far from the middle of the creek's valley.
const REGULATED_HALF_M: f64 = 80.0;
/// It is drawn with a corner at every so many metres.
const REGULATED_STEP_M: f64 = 100.0;

/// A marsh on lot 5, concession III, where the water of its north half runs.
const MARSH: [(f64, f64); 7] = [
    (1_842.0, 2_251.5),
    (1_985.5, 2_238.0),
    (2_074.0, 2_276.5),
    (2_091.5, 2_344.0),
    (2_018.0, 2_402.5),
    (1_897.5, 2_391.0),
    (1_836.0, 2_318.5),
];

/// The gas main comes in from the west, crosses the fields of concession III and goes on beside Teasel Line.
const GAS_MAIN: [(f64, f64); 4] = [(0.0, 2_229.5), (2_224.0, 2_229.5), (2_224.0, 2_000.5), (SIZE.0, 2_000.5)];

pub(crate) fn wetlands() -> Vec<ConstraintArea> {
    vec![ConstraintArea { id: "W-1", name: "Wickerfen marsh", outline: outline(&MARSH) }]
}

pub(crate) fn regulated_areas() -> Vec<ConstraintArea> {
    let steps = (SIZE.0 / REGULATED_STEP_M) as u32;
    let middle = |step: u32| f64::from(step) * REGULATED_STEP_M;
    let side = |u: f64, offset: f64| (u, centimetres(creek_valley(u) + offset));
    let south = (0..=steps).map(|step| side(middle(step), -REGULATED_HALF_M));
    let north = (0..=steps).rev().map(|step| side(middle(step), REGULATED_HALF_M));
    let corners: Vec<(f64, f64)> = south.chain(north).collect();
    vec![ConstraintArea { id: "RA-1", name: "valley of Sorrelhasp Creek", outline: outline(&corners) }]
}

pub(crate) fn utilities() -> Vec<Utility> {
    vec![Utility { id: "U-1", name: "Oxpindle gas main", class: "gas", line: line(&GAS_MAIN) }]
}

#[cfg(test)]
mod tests {
    use geo::{Area, Intersects, Validation};

    use super::*;

    #[test]
    fn areas_are_valid_and_the_regulated_one_is_a_band_of_its_width() {
        let (marsh, valley) = (&wetlands()[0].outline, &regulated_areas()[0].outline);
        assert!(marsh.is_valid() && valley.is_valid());
        // A band between two copies of one line, one above the other, has the area of its length by its height.
        let band = SIZE.0 * 2.0 * REGULATED_HALF_M;
        assert!((valley.unsigned_area() - band).abs() < SIZE.0 * 0.01, "{}", valley.unsigned_area());
    }

    #[test]
    fn the_creek_runs_in_its_regulated_area() {
        let creek = &crate::township::shared().waterways[0];
        assert_eq!(creek.id, "WC-1");
        assert!(regulated_areas()[0].outline.intersects(&creek.lines));
    }
}
