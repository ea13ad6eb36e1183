//! A course: the line of a channel with the elevation of its bed at every vertex, drawn downstream.

use crate::plan::{Line, centimetres};

/// Where a line runs and how deep: plan coordinates and bed elevation in metres, one entry per vertex.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Course {
    pub points: Vec<(f64, f64)>,
    pub bed: Vec<f64>,
}

/// The nearest point of a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Nearest {
    pub distance: f64,
    pub bed: f64,
}

impl Course {
    /// A course whose bed rises from `outlet_bed` at its last point by a constant `grade` (m/m) upstream.
    pub(crate) fn at_grade(points: Vec<(f64, f64)>, outlet_bed: f64, grade: f64) -> Self {
        let mut bed = vec![outlet_bed; points.len()];
        for index in (0..points.len() - 1).rev() {
            bed[index] = bed[index + 1] + grade * length(points[index], points[index + 1]);
        }
        Self { points, bed }
    }

    /// The point of every segment that is nearest to a point.
    pub(crate) fn by_segment(&self, point: (f64, f64)) -> impl Iterator<Item = Nearest> + '_ {
        self.points.windows(2).zip(self.bed.windows(2)).map(move |(ends, beds)| {
            let (distance, share) = to_segment(ends[0], ends[1], point);
            Nearest { distance, bed: beds[0] + (beds[1] - beds[0]) * share }
        })
    }

    /// Adds a vertex wherever the course crosses the line, and returns the crossing points in downstream order.
    pub(crate) fn cut_at(&mut self, line: Line) -> Vec<(f64, f64)> {
        let mut crossings = Vec::new();
        let mut index = 0;
        while index + 1 < self.points.len() {
            let (a, b) = (self.points[index], self.points[index + 1]);
            let (before, after) = (line.offset(a), line.offset(b));
            if before != 0.0 && before * after < 0.0 {
                let share = before / (before - after);
                let point = (centimetres(a.0 + (b.0 - a.0) * share), centimetres(a.1 + (b.1 - a.1) * share));
                self.points.insert(index + 1, point);
                self.bed.insert(index + 1, self.bed[index] + (self.bed[index + 1] - self.bed[index]) * share);
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

    /// The course without the stretches between each pair of vertices: its open parts, in downstream order.
    pub(crate) fn without(&self, stretches: &[[(f64, f64); 2]]) -> Vec<Self> {
        let mut parts = vec![Self { points: Vec::new(), bed: Vec::new() }];
        let mut covered = false;
        for (&point, &bed) in self.points.iter().zip(&self.bed) {
            if stretches.iter().any(|stretch| stretch[1] == point) {
                covered = false;
                parts.push(Self { points: Vec::new(), bed: Vec::new() });
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

pub(crate) fn length(a: (f64, f64), b: (f64, f64)) -> f64 {
    let (du, dv) = (b.0 - a.0, b.1 - a.1);
    (du * du + dv * dv).sqrt()
}

/// Distance of a point from a segment, and the share of the segment up to the nearest point.
fn to_segment(a: (f64, f64), b: (f64, f64), point: (f64, f64)) -> (f64, f64) {
    let (du, dv) = (b.0 - a.0, b.1 - a.1);
    let along = (point.0 - a.0) * du + (point.1 - a.1) * dv;
    let share = (along / (du * du + dv * dv)).clamp(0.0, 1.0);
    let (eu, ev) = (a.0 + share * du - point.0, a.1 + share * dv - point.1);
    ((eu * eu + ev * ev).sqrt(), share)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bent() -> Course {
        Course::at_grade(vec![(0.0, 0.0), (100.0, 0.0), (100.0, 50.0)], 10.0, 0.01)
    }

    #[test]
    fn the_bed_rises_upstream_at_the_grade() {
        assert_eq!(bent().bed, vec![11.5, 10.5, 10.0]);
    }

    #[test]
    fn the_nearest_point_has_the_bed_of_its_place() {
        let check = |point, expected: [(f64, f64); 2]| {
            for (found, (distance, bed)) in bent().by_segment(point).zip(expected) {
                assert!((found.distance - distance).abs() < 1e-9 && (found.bed - bed).abs() < 1e-9, "{found:?}");
            }
        };
        check((50.0, 5.0), [(5.0, 11.0), (50.0, 10.45)]);
        check((103.0, 25.0), [(634.0_f64.sqrt(), 10.5), (3.0, 10.25)]);
        check((-3.0, -4.0), [(5.0, 11.5), (10_625.0_f64.sqrt(), 10.5)]);
    }

    #[test]
    fn a_cut_adds_a_vertex_with_its_bed() {
        let mut course = bent();
        assert_eq!(course.cut_at(Line::Column(40.0)), vec![(40.0, 0.0)]);
        assert_eq!(course.points.len(), 4);
        assert!((course.bed_at((40.0, 0.0)).unwrap() - 11.1).abs() < 1e-9);
    }

    #[test]
    fn a_covered_stretch_interrupts_the_line() {
        let mut course = bent();
        course.cut_at(Line::Column(40.0));
        course.cut_at(Line::Column(60.0));
        let parts = course.without(&[[(40.0, 0.0), (60.0, 0.0)]]);
        let points: Vec<_> = parts.into_iter().map(|part| part.points).collect();
        assert_eq!(points, vec![vec![(0.0, 0.0), (40.0, 0.0)], vec![(60.0, 0.0), (100.0, 0.0), (100.0, 50.0)]]);
    }
}
