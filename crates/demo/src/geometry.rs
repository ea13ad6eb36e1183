//! Points and lines of the plan, and their geometries on the map.

use geo::{LineString, Point, Polygon};

use crate::plan::on_map;

/// The value at a share of the way from one to another.
pub(crate) fn mix(a: f64, b: f64, share: f64) -> f64 {
    a + (b - a) * share
}

/// The point at a share of the way from one to another.
pub(crate) fn between(a: (f64, f64), b: (f64, f64), share: f64) -> (f64, f64) {
    (mix(a.0, b.0, share), mix(a.1, b.1, share))
}

pub(crate) fn distance(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (du, dv) = (b.0 - a.0, b.1 - a.1);
    (du * du + dv * dv).sqrt()
}

/// To the centimetre, the resolution of every drawn vertex.
pub(crate) fn centimetres(metres: f64) -> f64 {
    (metres * 100.0).round() / 100.0
}

/// To the millimetre, the resolution of the elevations.
pub(crate) fn millimetres(metres: f64) -> f64 {
    (metres * 1_000.0).round() / 1_000.0
}

/// A line on the map through points of the plan.
pub(crate) fn line(points: &[(f64, f64)]) -> LineString {
    points.iter().map(|&point| Point::from(on_map(point))).collect()
}

/// A closed outline on the map from its corners in the plan.
pub(crate) fn outline(corners: &[(f64, f64)]) -> Polygon {
    Polygon::new(line(corners), Vec::new())
}

/// The corners of a rectangle, counter-clockwise from the south-west.
pub(crate) fn rectangle((west, east): (f64, f64), (south, north): (f64, f64)) -> [(f64, f64); 4] {
    [(west, south), (east, south), (east, north), (west, north)]
}
