//! Polygons on cells.

use std::ops::Range;

use fallwright_units::{Cell, Frame, Raster};
use geo::{LineString, MultiPolygon, Polygon};
use rayon::prelude::*;

/// Gives every cell the number of the polygon that holds its centre: 1 for the first polygon, 0 for none.
///
/// Where polygons overlap, the first one keeps the cell. A centre exactly on a boundary belongs to the polygon east or
/// south of it, so polygons that share a boundary share no cell and leave none out.
///
/// *Complexity*: O(cells inside + c log c) for the c places where edges cross the rows; polygons in parallel.
pub fn cover(frame: &Frame, polygons: &[MultiPolygon<f64>]) -> Raster<u32> {
    let inside: Vec<Vec<Range<usize>>> = polygons.par_iter().map(|polygon| runs_inside(frame, polygon)).collect();
    let mut labels = Raster::filled(*frame, 0_u32);
    for (label, runs) in (1_u32..).zip(inside) {
        for run in runs {
            for held in labels.values[run].iter_mut().filter(|held| **held == 0) {
                *held = label;
            }
        }
    }
    labels
}

/// The cells whose centre lies inside, in the order of their index: scanlines by the even-odd rule.
pub fn cells_inside(frame: &Frame, polygon: &MultiPolygon<f64>) -> Vec<Cell> {
    runs_inside(frame, polygon).into_iter().flatten().map(Cell).collect()
}

/// The same cells as runs of indices, each within one row.
fn runs_inside(frame: &Frame, polygon: &MultiPolygon<f64>) -> Vec<Range<usize>> {
    let mut crossings = Vec::new();
    for ring in polygon.iter().flat_map(rings) {
        push_crossings(frame, ring, &mut crossings);
    }
    crossings.sort_by(|(row, x), (other_row, other_x)| row.cmp(other_row).then(x.total_cmp(other_x)));
    let span = |pair: &[(usize, f64)]| {
        let ((row, west), (_, east)) = (pair[0], pair[1]);
        let cols = cols_between(frame, west, east);
        frame.cell(cols.start, row).0..frame.cell(cols.end, row).0
    };
    crossings.chunks_exact(2).map(span).filter(|run| !run.is_empty()).collect()
}

pub(crate) fn rings(polygon: &Polygon<f64>) -> impl Iterator<Item = &LineString<f64>> {
    std::iter::once(polygon.exterior()).chain(polygon.interiors())
}

/// Where a ring's edges cross the centre lines of rows: row and x, an even number in each row.
fn push_crossings(frame: &Frame, ring: &LineString<f64>, crossings: &mut Vec<(usize, f64)>) {
    for edge in ring.lines() {
        // From the lower end upward, whichever way the ring runs, so that neighbours compute the same crossing.
        let (low, high) = if edge.start.y < edge.end.y { (edge.start, edge.end) } else { (edge.end, edge.start) };
        for row in rows_between(frame, low.y, high.y) {
            let y = frame.centre_y(row);
            if low.y < y && y <= high.y {
                crossings.push((row, low.x + (y - low.y) / (high.y - low.y) * (high.x - low.x)));
            }
        }
    }
}

/// Rows that may have their centre line between two heights, one more on each side for rounding.
fn rows_between(frame: &Frame, low: f64, high: f64) -> Range<usize> {
    let row_at = |y: f64| ((frame.north() - y) / frame.cell_height()).clamp(-1.0, frame.rows() as f64 + 1.0);
    let first = (row_at(high) - 1.0).max(0.0) as usize;
    let past = (row_at(low) + 2.0).min(frame.rows() as f64) as usize;
    first..past.max(first)
}

/// Columns whose centre lies in `west..east`, its west end included.
fn cols_between(frame: &Frame, west: f64, east: f64) -> Range<usize> {
    let first_from = |x: f64| ((x - frame.west()) / frame.cell_width() - 0.5).ceil().clamp(0.0, frame.cols() as f64);
    first_from(west) as usize..first_from(east) as usize
}

#[cfg(test)]
mod tests {
    use geo::{MultiPolygon, polygon};
    use proptest::prelude::*;

    use super::*;

    fn frame() -> Frame {
        Frame::new(10, 10, (0.0, 10.0), (1.0, 1.0)).unwrap()
    }

    fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon<f64> {
        polygon![(x: west, y: south), (x: east, y: south), (x: east, y: north), (x: west, y: north)].into()
    }

    #[test]
    fn cells_are_those_whose_centre_lies_inside() {
        let check = |polygon, expected| assert_eq!(cells_inside(&frame(), &polygon).len(), expected);
        check(rectangle(0.0, 0.0, 10.0, 10.0), 100);
        check(rectangle(0.6, 0.6, 1.4, 1.4), 0);
        check(rectangle(0.4, 0.4, 1.6, 1.6), 4);
        check(rectangle(-50.0, -50.0, 50.0, 50.0), 100);
        check(rectangle(20.0, 20.0, 30.0, 30.0), 0);
        check(rectangle(-30.0, -30.0, -20.0, -20.0), 0);
    }

    #[test]
    fn a_centre_on_a_shared_boundary_belongs_to_one_side() {
        let (west, east) = (rectangle(0.0, 0.0, 4.5, 10.0), rectangle(4.5, 0.0, 10.0, 10.0));
        let (north, south) = (rectangle(0.0, 4.5, 10.0, 10.0), rectangle(0.0, 0.0, 10.0, 4.5));
        for (one, other) in [(west, east), (north, south)] {
            assert_eq!(cells_inside(&frame(), &one).len() + cells_inside(&frame(), &other).len(), 100);
        }
    }

    #[test]
    fn a_hole_is_left_out() {
        let ring = rectangle(2.0, 2.0, 8.0, 8.0).0[0].exterior().clone();
        let holed = Polygon::new(rectangle(0.0, 0.0, 10.0, 10.0).0[0].exterior().clone(), vec![ring]);
        assert_eq!(cells_inside(&frame(), &holed.into()).len(), 64);
    }

    #[test]
    fn the_first_of_two_overlapping_polygons_keeps_the_cell() {
        let labels = cover(&frame(), &[rectangle(0.0, 0.0, 6.0, 10.0), rectangle(5.0, 0.0, 10.0, 10.0)]);
        assert_eq!(labels.values.iter().filter(|&&label| label == 1).count(), 60);
        assert_eq!(labels.values.iter().filter(|&&label| label == 2).count(), 40);
    }

    proptest! {
        #[test]
        fn two_halves_cut_by_any_line_share_no_cell_and_leave_none_out(top in 0.0..10.0_f64, bottom in 0.0..10.0_f64) {
            let west = polygon![(x: 0.0, y: 0.0), (x: bottom, y: 0.0), (x: top, y: 10.0), (x: 0.0, y: 10.0)];
            let east = polygon![(x: bottom, y: 0.0), (x: 10.0, y: 0.0), (x: 10.0, y: 10.0), (x: top, y: 10.0)];
            let mut cells = cells_inside(&frame(), &west.into());
            cells.extend(cells_inside(&frame(), &east.into()));
            cells.sort_unstable();
            prop_assert_eq!(cells, (0..100).map(Cell).collect::<Vec<_>>());
        }
    }
}
