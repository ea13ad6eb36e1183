//! Lines that run along one another: one channel drawn twice, in two layers.

use fallwright_units::WaterwayIx;
use geo::{BoundingRect, Coord, Distance, Euclidean, Line, LineString, MultiLineString, Point};
use rstar::{
    AABB, RTree,
    primitives::{GeomWithData, Rectangle},
};

/// A stretch of a waterway's line, and which other waterway it runs along, if any.
#[derive(Clone, Debug, PartialEq)]
pub struct AlongOther {
    pub line: LineString<f64>,
    pub along: Option<WaterwayIx>,
}

/// A line runs along another only where it does so for this many times the distance that counts as together: where two
/// lines cross or meet they are together for a few times that distance (our choice).
const TIMES_THE_DISTANCE: f64 = 10.0;

/// Lines already drawn, the ones that keep their course first.
#[derive(Default)]
pub struct DrawnLines {
    tree: RTree<GeomWithData<Rectangle<[f64; 2]>, Piece>>,
    widest_half_m: f64,
    added: usize,
}

#[derive(Clone, Copy)]
struct Piece {
    line: Line<f64>,
    waterway: WaterwayIx,
    half_width_m: f64,
    added: usize,
}

impl DrawnLines {
    /// Adds the lines of a waterway; those added earlier come before it.
    pub fn add(&mut self, waterway: WaterwayIx, lines: &MultiLineString<f64>, width_m: f64) {
        let half_width_m = width_m / 2.0;
        for line in lines.iter().flat_map(LineString::lines) {
            let bounds = line.bounding_rect();
            let corners = Rectangle::from_corners(bounds.min().into(), bounds.max().into());
            let piece = Piece { line, waterway, half_width_m, added: self.added };
            self.tree.insert(GeomWithData::new(corners, piece));
        }
        self.widest_half_m = self.widest_half_m.max(half_width_m);
        self.added += 1;
    }

    /// Cuts a line where it begins and ceases to run along a line added before: no farther from it than `near_m` or half of
    /// the wider one's width, for ten times as long. Gaps that short between two such stretches are taken in.
    ///
    /// *Units*: metres. *Complexity*: O(log n) a sample; samples lie at most `near_m` apart.
    pub fn stretches(&self, line: &LineString<f64>, width_m: f64, near_m: f64) -> Vec<AlongOther> {
        let samples: Vec<Sample> = sampled(line, near_m).map(|at| self.sample(at, width_m / 2.0, near_m)).collect();
        let mut along: Vec<Option<WaterwayIx>> = samples.iter().map(|sample| sample.along).collect();
        let short = |run: &[Sample], together_m: f64| length(run) < TIMES_THE_DISTANCE * together_m;
        // Crossings and junctions first, then gaps.
        for (from, to) in runs(&along) {
            let together_m = samples[from..to].iter().map(|sample| sample.within_m).fold(0.0, f64::max);
            if along[from].is_some() && short(&samples[from..to], together_m) {
                along[from..to].fill(None);
            }
        }
        for (from, to) in runs(&along) {
            let before = from.checked_sub(1).and_then(|before| along[before]);
            if along[from].is_none() && before.is_some() && along.get(to) == Some(&before) {
                let bridged = short(&samples[from - 1..=to], samples[from - 1].within_m);
                along[from..to].fill(before.filter(|_| bridged));
            }
        }
        stretched(&samples, &along)
    }

    fn sample(&self, at: Coord<f64>, half_width_m: f64, near_m: f64) -> Sample {
        let reach = near_m.max(half_width_m).max(self.widest_half_m);
        let window = AABB::from_corners([at.x - reach, at.y - reach], [at.x + reach, at.y + reach]);
        let within = |piece: &Piece| near_m.max(half_width_m).max(piece.half_width_m);
        let near = self.tree.locate_in_envelope_intersecting(window).map(|found| found.data);
        let near = near.filter(|piece| Euclidean.distance(&Point::from(at), &piece.line) <= within(piece));
        let first = near.min_by_key(|piece| piece.added);
        Sample { at, along: first.map(|piece| piece.waterway), within_m: first.map_or(0.0, |piece| within(&piece)) }
    }
}

#[derive(Clone, Copy)]
struct Sample {
    at: Coord<f64>,
    along: Option<WaterwayIx>,
    within_m: f64,
}

/// Every vertex, and points between no farther apart than `spacing`.
fn sampled(line: &LineString<f64>, spacing: f64) -> impl Iterator<Item = Coord<f64>> + '_ {
    let between = move |edge: Line<f64>| {
        let steps = (edge.dx().hypot(edge.dy()) / spacing).ceil().max(1.0);
        (1..=steps as usize).map(move |step| edge.start + edge.delta() * (step as f64 / steps))
    };
    line.0.first().copied().into_iter().chain(line.lines().flat_map(between))
}

/// Ranges of equal neighbours.
fn runs(along: &[Option<WaterwayIx>]) -> Vec<(usize, usize)> {
    let mut from = 0;
    let ends = along.chunk_by(|a, b| a == b).map(|run| {
        from += run.len();
        (from - run.len(), from)
    });
    ends.collect()
}

fn length(samples: &[Sample]) -> f64 {
    samples.windows(2).map(|pair| (pair[1].at.x - pair[0].at.x).hypot(pair[1].at.y - pair[0].at.y)).sum()
}

/// Each stretch begins where the one before ends.
fn stretched(samples: &[Sample], along: &[Option<WaterwayIx>]) -> Vec<AlongOther> {
    let with_start = |(from, to): (usize, usize)| {
        let points = samples[from.saturating_sub(1)..to].iter().map(|sample| sample.at);
        AlongOther { line: LineString::new(points.collect()), along: along[from] }
    };
    runs(along).into_iter().map(with_start).filter(|stretch| stretch.line.0.len() > 1).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(points: &[(f64, f64)]) -> MultiLineString<f64> {
        MultiLineString::new(vec![LineString::from(points.to_vec())])
    }

    /// The creek runs east along y = 0; together within 2 m. Lengths of the stretches, and whether along the creek.
    fn check(line: &[(f64, f64)], expected: &[(f64, bool)]) {
        let mut courses = DrawnLines::default();
        courses.add(WaterwayIx(7), &lines(&[(0.0, 0.0), (1000.0, 0.0)]), 0.0);
        let found = courses.stretches(&LineString::from(line.to_vec()), 0.0, 2.0);
        let measured: Vec<(f64, bool)> = found
            .iter()
            .map(|stretch| {
                assert!(stretch.along.is_none_or(|along| along == WaterwayIx(7)));
                let length = stretch.line.lines().map(|edge| edge.dx().hypot(edge.dy())).sum();
                (length, stretch.along.is_some())
            })
            .collect();
        assert_eq!(measured.len(), expected.len(), "{measured:?}");
        for (found, expected) in measured.iter().zip(expected) {
            assert!((found.0 - expected.0).abs() <= 4.0 && found.1 == expected.1, "{measured:?}");
        }
    }

    #[test]
    fn the_same_line_twice() {
        check(&[(0.0, 0.0), (1000.0, 0.0)], &[(1000.0, true)]);
        check(&[(0.0, 1.5), (1000.0, -1.5)], &[(1000.0, true)]);
        check(&[(900.0, 1.0), (300.0, 1.0)], &[(600.0, true)]);
    }

    #[test]
    fn a_line_that_comes_in_and_leaves() {
        check(&[(0.0, 200.0), (200.0, 0.0), (600.0, 0.0)], &[(280.0, false), (403.0, true)]);
        check(&[(400.0, 0.0), (600.0, 0.0), (600.0, -100.0)], &[(202.0, true), (98.0, false)]);
    }

    #[test]
    fn crossings_and_junctions_are_not_together() {
        check(&[(500.0, 100.0), (500.0, -100.0)], &[(200.0, false)]);
        check(&[(500.0, 100.0), (500.0, 0.0)], &[(100.0, false)]);
        check(&[(0.0, 3.0), (1000.0, 3.0)], &[(1000.0, false)]);
    }

    #[test]
    fn a_short_bulge_stays_together() {
        let bulge = [(0.0, 0.0), (490.0, 0.0), (495.0, 4.0), (500.0, 0.0), (1000.0, 0.0)];
        check(&bulge, &[(1003.0, true)]);
    }

    #[test]
    fn half_of_the_wider_ones_width_is_together() {
        let mut courses = DrawnLines::default();
        courses.add(WaterwayIx(0), &lines(&[(0.0, 0.0), (1000.0, 0.0)]), 10.0);
        let beside = LineString::from(vec![(0.0, 4.5), (1000.0, 4.5)]);
        assert_eq!(courses.stretches(&beside, 0.0, 2.0)[0].along, Some(WaterwayIx(0)));
    }
}
