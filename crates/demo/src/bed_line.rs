//! A bed line: the line of a channel with the elevation of its bed at every vertex, drawn downstream.

use crate::geometry::{between, centimetres, distance, mix};
use crate::plan::Line;

/// Plan coordinates and bed elevation in metres, one entry per vertex.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct BedLine {
    pub points: Vec<(f64, f64)>,
    pub bed: Vec<f64>,
}

/// The straight piece from one vertex to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Segment {
    pub ends: [(f64, f64); 2],
    pub beds: [f64; 2],
}

/// The nearest point of a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Nearest {
    pub distance: f64,
    pub bed: f64,
}

impl Segment {
    pub(crate) fn nearest(self, point: (f64, f64)) -> Nearest {
        let [a, b] = self.ends;
        let (du, dv) = (b.0 - a.0, b.1 - a.1);
        let along = (point.0 - a.0) * du + (point.1 - a.1) * dv;
        let share = (along / (du * du + dv * dv)).clamp(0.0, 1.0);
        let (eu, ev) = (a.0 + share * du - point.0, a.1 + share * dv - point.1);
        Nearest { distance: (eu * eu + ev * ev).sqrt(), bed: mix(self.beds[0], self.beds[1], share) }
    }
}

impl BedLine {
    /// A bed that rises from `outlet_bed` at the last point by a constant `grade` (m/m) upstream.
    pub(crate) fn at_grade(points: Vec<(f64, f64)>, outlet_bed: f64, grade: f64) -> Self {
        let mut bed = vec![outlet_bed; points.len()];
        for index in (0..points.len() - 1).rev() {
            bed[index] = bed[index + 1] + grade * distance(points[index], points[index + 1]);
        }
        Self { points, bed }
    }

    pub(crate) fn segments(&self) -> impl Iterator<Item = Segment> + '_ {
        let pairs = self.points.windows(2).zip(self.bed.windows(2));
        pairs.map(|(ends, beds)| Segment { ends: [ends[0], ends[1]], beds: [beds[0], beds[1]] })
    }

    /// Metres from the first vertex to the last.
    pub(crate) fn length(&self) -> f64 {
        self.segments().map(|Segment { ends: [a, b], .. }| distance(a, b)).sum()
    }

    /// The place at some metres along the line, and the bed there.
    pub(crate) fn at(&self, metres: f64) -> ((f64, f64), f64) {
        let mut before = 0.0;
        for Segment { ends: [a, b], beds } in self.segments() {
            let part = distance(a, b);
            if metres <= before + part {
                let share = (metres - before) / part;
                return (between(a, b, share), mix(beds[0], beds[1], share));
            }
            before += part;
        }
        (self.mouth(), self.bed[self.bed.len() - 1])
    }

    pub(crate) fn mouth(&self) -> (f64, f64) {
        self.points[self.points.len() - 1]
    }

    /// Adds a vertex wherever the bed line crosses a line of the plan, and returns the crossing points in downstream order.
    pub(crate) fn cut_at(&mut self, line: Line) -> Vec<(f64, f64)> {
        let mut crossings = Vec::new();
        let mut index = 0;
        while index + 1 < self.points.len() {
            let (a, b) = (self.points[index], self.points[index + 1]);
            let (before, after) = (line.offset(a), line.offset(b));
            if before != 0.0 && before * after < 0.0 {
                let share = before / (before - after);
                let (u, v) = between(a, b, share);
                let point = (centimetres(u), centimetres(v));
                self.points.insert(index + 1, point);
                self.bed.insert(index + 1, mix(self.bed[index], self.bed[index + 1], share));
                crossings.push(point);
                index += 1;
            } else if after == 0.0 {
                crossings.push(b);
            }
            index += 1;
        }
        crossings
    }

    /// Bed elevation at a vertex.
    pub(crate) fn bed_at(&self, vertex: (f64, f64)) -> Option<f64> {
        self.points.iter().position(|&point| point == vertex).map(|index| self.bed[index])
    }

    /// What remains without the stretches between each pair of vertices: the open parts, in downstream order.
    pub(crate) fn without(&self, stretches: &[[(f64, f64); 2]]) -> Vec<Self> {
        let mut parts = vec![Self::default()];
        let mut covered = false;
        for (&point, &bed) in self.points.iter().zip(&self.bed) {
            if stretches.iter().any(|stretch| stretch[1] == point) {
                covered = false;
                parts.push(Self::default());
            }
            if !covered && let Some(part) = parts.last_mut() {
                part.points.push(point);
                part.bed.push(bed);
            }
            covered |= stretches.iter().any(|stretch| stretch[0] == point);
        }
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bent() -> BedLine {
        BedLine::at_grade(vec![(0.0, 0.0), (100.0, 0.0), (100.0, 50.0)], 10.0, 0.01)
    }

    #[test]
    fn the_bed_rises_upstream_at_the_grade() {
        assert_eq!(bent().bed, vec![11.5, 10.5, 10.0]);
    }

    #[test]
    fn the_nearest_point_has_the_bed_of_its_place() {
        let check = |point, expected: [(f64, f64); 2]| {
            for (found, (distance, bed)) in bent().segments().map(|segment| segment.nearest(point)).zip(expected) {
                assert!((found.distance - distance).abs() < 1e-9 && (found.bed - bed).abs() < 1e-9, "{found:?}");
            }
        };
        check((50.0, 5.0), [(5.0, 11.0), (50.0, 10.45)]);
        check((103.0, 25.0), [(634.0_f64.sqrt(), 10.5), (3.0, 10.25)]);
        check((-3.0, -4.0), [(5.0, 11.5), (10_625.0_f64.sqrt(), 10.5)]);
    }

    #[test]
    fn a_cut_adds_a_vertex_with_its_bed() {
        let mut line = bent();
        assert_eq!(line.cut_at(Line::Column(40.0)), vec![(40.0, 0.0)]);
        assert_eq!(line.points.len(), 4);
        assert!((line.bed_at((40.0, 0.0)).unwrap() - 11.1).abs() < 1e-9);
    }

    #[test]
    fn a_covered_stretch_interrupts_the_line() {
        let mut line = bent();
        line.cut_at(Line::Column(40.0));
        line.cut_at(Line::Column(60.0));
        let parts = line.without(&[[(40.0, 0.0), (60.0, 0.0)]]);
        let points: Vec<_> = parts.into_iter().map(|part| part.points).collect();
        assert_eq!(points, vec![vec![(0.0, 0.0), (40.0, 0.0)], vec![(60.0, 0.0), (100.0, 0.0), (100.0, 50.0)]]);
    }
}
