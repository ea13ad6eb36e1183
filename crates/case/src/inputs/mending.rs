//! Polygons whose rings cross themselves, mended, and the ground that this adds or takes away.

use fallwright_land::mean_width;
use geo::algorithm::bool_ops::FillRule;
use geo::{Area, BooleanOps, LineString, MakeValid, MultiPolygon, Polygon, Validation};

/// A mended polygon beside what was drawn.
pub(super) struct Mended {
    pub(super) shape: MultiPolygon<f64>,
    /// Ground that was drawn the wrong way round, or more than once.
    pub(super) changed_m2: f64,
    /// Mean width of the widest piece of it.
    pub(super) widest_m: f64,
}

/// Mends a polygon by the even-odd rule; `None` where that gives no valid polygon with an area.
///
/// What changes is the ground that the rings do not go round just once, in the direction of most of their area: a loop turned
/// the other way, and ground inside twice.
///
/// # References
/// Ledoux, Arroyo Ohori, Meijers, "A triangulation-based approach to automatically repair GIS polygons", Computers &
/// Geosciences 66 (2014), as the crate `geo` has it.
pub(super) fn mended(polygon: &MultiPolygon<f64>) -> Option<Mended> {
    let shape = polygon.make_valid().ok().filter(|shape| !shape.0.is_empty() && shape.is_valid())?;
    let nothing = MultiPolygon::new(Vec::new());
    let drawn = turned(polygon).union_with_fill_rule(&nothing, FillRule::Positive);
    let changed = drawn.xor(&shape);
    let width = |part: &Polygon<f64>| mean_width(&MultiPolygon::new(vec![part.clone()]));
    let widest_m = changed.iter().map(width).fold(0.0, f64::max);
    Some(Mended { changed_m2: changed.unsigned_area(), widest_m, shape })
}

/// The same rings, outer ones counterclockwise and holes clockwise by the area that they enclose.
fn turned(polygon: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let part = |part: &Polygon<f64>| {
        let holes = part.interiors().iter().map(|hole| ring(hole, -1.0)).collect();
        Polygon::new(ring(part.exterior(), 1.0), holes)
    };
    polygon.iter().map(part).collect()
}

fn ring(ring: &LineString<f64>, sign: f64) -> LineString<f64> {
    let area = Polygon::new(ring.clone(), Vec::new()).signed_area();
    if area * sign < 0.0 { LineString(ring.0.iter().rev().copied().collect()) } else { ring.clone() }
}

#[cfg(test)]
mod tests {
    use geo::wkt;

    use super::*;

    /// Areas by hand, in square metres; the width is twice the area over the perimeter.
    fn check(polygon: &Polygon<f64>, area: f64, changed: f64, widest: f64) {
        for turned in
            [polygon.clone(), Polygon::new(LineString(polygon.exterior().0.iter().rev().copied().collect()), vec![])]
        {
            let found = mended(&MultiPolygon::new(vec![turned])).expect("it can be mended");
            assert!(found.shape.is_valid());
            let close = |found: f64, expected: f64| (found - expected).abs() < 1e-6;
            assert!(close(found.shape.unsigned_area(), area), "{}", found.shape.unsigned_area());
            assert!(close(found.changed_m2, changed), "{}", found.changed_m2);
            assert!(close(found.widest_m, widest), "{}", found.widest_m);
        }
    }

    /// The sides cross at (99, 1): the triangle to the right of that is turned the other way.
    #[test]
    fn a_small_loop_changes() {
        let polygon = wkt!(POLYGON((0. 0., 98. 0., 100. 2., 100. 0., 98. 2., 98. 100., 0. 100., 0. 0.)));
        check(&polygon, 98.0 * 100.0 + 1.0 + 1.0, 1.0, 2.0 / (2.0 + 2.0 * 2.0_f64.sqrt()));
    }

    #[test]
    fn half_a_bow_tie_changes() {
        let side = 50.0_f64.sqrt();
        check(&wkt!(POLYGON((0. 0., 0. 10., 10. 0., 10. 10., 0. 0.))), 50.0, 25.0, 2.0 * 25.0 / (10.0 + 2.0 * side));
    }

    #[test]
    fn ground_inside_twice_changes() {
        // A square of 10 m, and one of 2 m in its corner that the ring goes round once more.
        check(&wkt!(POLYGON((0. 0., 10. 0., 10. 10., 0. 10., 0. 0., 2. 0., 2. 2., 0. 2., 0. 0.))), 96.0, 4.0, 1.0);
    }
}
