//! Plane coordinates as a page holds them.

use geo::{Coord, Simplify};

/// The south-west corner that decimetres are counted from, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Plan {
    pub west: f64,
    pub south: f64,
}

impl Plan {
    pub(crate) fn decimetres(self, (x, y): (f64, f64)) -> [i64; 2] {
        [((x - self.west) * 10.0).round() as i64, ((y - self.south) * 10.0).round() as i64]
    }

    /// One after the other, each after the first as the difference from the one before.
    pub(crate) fn packed(self, points: impl IntoIterator<Item = (f64, f64)>) -> Vec<i64> {
        let mut packed = Vec::new();
        let mut before = [0, 0];
        for point in points {
            let here = self.decimetres(point);
            if packed.is_empty() || here != before {
                packed.extend([here[0] - before[0], here[1] - before[1]]);
                before = here;
            }
        }
        packed
    }

    /// The same of a line or ring of which no vertex is farther than `tolerance_m` from what is kept.
    pub(crate) fn thinned(self, line: &geo::LineString<f64>, tolerance_m: f64) -> Vec<i64> {
        self.packed(line.simplify(tolerance_m).0.into_iter().map(|Coord { x, y }| (x, y)))
    }
}

/// Positions of the points of a line that are kept so that none left out is farther than `tolerance_m` from the line in
/// plan or `tolerance_z_m` in height.
///
/// *References*: D. H. Douglas & T. K. Peucker (1973), Algorithms for the reduction of the number of points required to
/// represent a digitized line or its caricature, Cartographica 10, 112–122; here in three dimensions.
pub(crate) fn kept(points: &[(f64, f64, f64)], tolerance_m: f64, tolerance_z_m: f64) -> Vec<usize> {
    let scale = tolerance_m / tolerance_z_m;
    let mut keep = vec![false; points.len()];
    let Some(first) = keep.first_mut() else { return Vec::new() };
    *first = true;
    let mut open = vec![(0, points.len() - 1)];
    while let Some((a, b)) = open.pop() {
        keep[b] = true;
        let off = |i: usize| distance(points[i], points[a], points[b], scale);
        let farthest = (a + 1..b).map(|i| (i, off(i))).fold((a, tolerance_m), |x, y| if y.1 > x.1 { y } else { x });
        if farthest.0 > a {
            open.extend([(a, farthest.0), (farthest.0, b)]);
        }
    }
    (0..points.len()).filter(|&i| keep[i]).collect()
}

/// From a point to the stretch between two others, heights multiplied by `scale`.
fn distance(p: (f64, f64, f64), a: (f64, f64, f64), b: (f64, f64, f64), scale: f64) -> f64 {
    let difference = |q: (f64, f64, f64)| [q.0 - a.0, q.1 - a.1, (q.2 - a.2) * scale];
    let (p, b) = (difference(p), difference(b));
    let dot = |u: [f64; 3], v: [f64; 3]| u[0] * v[0] + u[1] * v[1] + u[2] * v[2];
    let along = if dot(b, b) > 0.0 { (dot(p, b) / dot(b, b)).clamp(0.0, 1.0) } else { 0.0 };
    let off = [p[0] - along * b[0], p[1] - along * b[1], p[2] - along * b[2]];
    dot(off, off).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bank_across_a_straight_line_is_kept() {
        let line = [(0.0, 0.0, 5.0), (10.0, 0.1, 5.0), (20.0, 0.0, 6.0), (30.0, 0.0, 5.0), (40.0, 0.0, 5.0)];
        assert_eq!(kept(&line, 1.0, 0.1), [0, 1, 2, 3, 4]);
        assert_eq!(kept(&line, 1.0, 10.0), [0, 4]);
        assert_eq!(kept(&line[..1], 1.0, 1.0), [0]);
        assert_eq!(kept(&[], 1.0, 1.0), [0; 0]);
    }

    #[test]
    fn points_are_packed_as_differences_and_repeats_are_left_out() {
        let plan = Plan { west: 100.0, south: 50.0 };
        assert_eq!(plan.packed([(101.0, 51.0), (101.02, 51.0), (103.0, 50.5)]), [10, 10, 20, -5]);
        let line = geo::LineString::from(vec![(100.0, 50.0), (105.0, 50.2), (110.0, 50.0)]);
        assert_eq!(plan.thinned(&line, 1.0), [0, 0, 100, 0]);
    }
}
