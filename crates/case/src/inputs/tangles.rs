//! Lines that cross themselves again and again, which no channel does.

use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Line, MultiLineString};
use rstar::RTree;
use rstar::primitives::GeomWithData;

/// More crossings of a line with itself than any mapped channel has (our choice, no source). What is made of a line, its
/// strips for one, has as many corners.
pub(super) const MOST_CROSSINGS: usize = 1_000;

/// Pairs of segments that are near each other, so many for each segment on average, are compared; with more the line is
/// taken to be tangled.
const MOST_PAIRS: usize = 1_000;

/// Whether a line crosses itself more than [`MOST_CROSSINGS`] times. Corners that segments share are no crossings.
///
/// *Complexity*: O(s log s) for s segments of a channel, and no more than 1,000 s for any line.
pub(super) fn is_tangled(lines: &MultiLineString<f64>) -> bool {
    let segments: Vec<Line<f64>> = lines.iter().flat_map(geo::LineString::lines).collect();
    let numbered = segments.iter().enumerate().map(|(number, segment)| GeomWithData::new(*segment, number));
    let tree = RTree::bulk_load(numbered.collect());
    let (mut pairs, mut crossings) = (0, 0);
    for (number, segment) in segments.iter().enumerate() {
        let near = tree.locate_in_envelope_intersecting(rstar::RTreeObject::envelope(segment));
        for other in near.filter(|other| other.data > number) {
            pairs += 1;
            crossings += usize::from(cross(segment, other.geom()));
            if crossings > MOST_CROSSINGS || pairs > MOST_PAIRS * segments.len() {
                return true;
            }
        }
    }
    false
}

/// Whether two segments meet in a point inside both.
fn cross(one: &Line<f64>, other: &Line<f64>) -> bool {
    matches!(line_intersection(*one, *other), Some(LineIntersection::SinglePoint { is_proper: true, .. }))
}

#[cfg(test)]
mod tests {
    use geo::LineString;

    use super::*;

    fn check(points: impl Iterator<Item = (f64, f64)>, expected: bool) {
        assert_eq!(is_tangled(&MultiLineString::new(vec![points.collect::<LineString<f64>>()])), expected);
    }

    #[test]
    fn a_scribble_is_tangled_and_a_winding_channel_is_not() {
        // Every tooth crosses every other: 60 x 60 / 2 crossings.
        check((0..120).map(|corner| (f64::from(corner % 2) * 100.0, f64::from((corner * 37) % 101))), true);
        check((0..20_000).map(|corner| (f64::from(corner), f64::from(corner % 2) * 5.0)), false);
        // A line that doubles back on itself, and a spiral.
        check((0..3_000).map(|corner| (f64::from(corner % 2) * 100.0, 0.0)), true);
        let turn = |corner: i32| f64::from(corner) / 20.0;
        check((0..5_000).map(|corner| (turn(corner) * turn(corner).cos(), turn(corner) * turn(corner).sin())), false);
    }
}
