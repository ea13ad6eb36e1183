//! The direction of steepest fall of every cell of a tile.

use std::f64::consts::SQRT_2;

use fallwright_units::Frame;
use multiversion::multiversion;

use super::patch::Patch;
use crate::direction::{self, ON_FLAT, neighbour_distances};

/// Sets each cell's code: the steepest fall, [`direction::ENDS`] where none falls at the edge of the data, [`ON_FLAT`]
/// elsewhere. `surface` has its margin, `NaN` beyond the frame; so has `code` on return only inside the tile.
///
/// *Complexity*: O(n) for n cells.
pub(crate) fn steepest(frame: &Frame, surface: &Patch<f32>, code: &mut Patch<u8>) {
    let distances = neighbour_distances(frame);
    let lowest_is_steepest = distances[1] == distances[3] && drops_differ(surface);
    code.surround(surface.cols, surface.rows, direction::NODATA);
    for row in 0..surface.rows {
        if lowest_is_steepest {
            lowest_of_each_kind(surface, row, code);
        } else {
            all_slopes(surface, row, &distances, code);
        }
        mark_without_fall(surface, row, code);
    }
}

/// Not yet known: no neighbour is lower.
const NO_FALL: u8 = 0;

/// Whether any two different drops over one distance give different slopes in double precision.
///
/// All elevations are multiples of the last digit of the smallest one above zero. With at most 24 binary digits in each
/// and at most 24 between the smallest and the largest, two drops differ by 2⁻⁴⁹ of the larger or not at all, which is far
/// above the rounding of a division, 2⁻⁵³.
#[multiversion(targets = "simd")]
fn drops_differ(surface: &Patch<f32>) -> bool {
    const MOST_BETWEEN: f32 = (1 << 24) as f32;
    // The bits of positive numbers are ordered as the numbers are, and whole numbers are compared many at once.
    let (mut smallest, mut largest) = (u32::MAX, 0);
    for &z in &surface.values {
        let size = if z.is_nan() { 0 } else { z.abs().to_bits() };
        // One less, so that zero is the largest.
        smallest = smallest.min(size.wrapping_sub(1));
        largest = largest.max(size);
    }
    f32::from_bits(largest) / MOST_BETWEEN <= f32::from_bits(smallest.wrapping_add(1))
}

/// Where the same drop over the same distance is the same slope: the lowest of the four neighbours across sides against
/// the lowest of the four across corners.
#[multiversion(targets = "simd")]
fn lowest_of_each_kind(surface: &Patch<f32>, row: usize, code: &mut Patch<u8>) {
    let [ne, e, se, s, sw, w, nw, n] = surface.lines_around(row);
    let here = &surface.values[surface.row(row)];
    let to = &mut code.values[surface.row(row)];
    for col in 0..here.len() {
        let (mut side, mut side_code) = (f32::INFINITY, 0_u32);
        for (z, code) in [(e[col], 2), (s[col], 4), (w[col], 6), (n[col], 8)] {
            let lower = z < side;
            (side, side_code) = (if lower { z } else { side }, if lower { code } else { side_code });
        }
        let (mut corner, mut corner_code) = (f32::INFINITY, 0_u32);
        for (z, code) in [(ne[col], 1), (se[col], 3), (sw[col], 5), (nw[col], 7)] {
            let lower = z < corner;
            (corner, corner_code) = (if lower { z } else { corner }, if lower { code } else { corner_code });
        }
        let z = f64::from(here[col]);
        let side_slope = z - f64::from(side);
        let corner_slope = (z - f64::from(corner)) / SQRT_2;
        let tie_to_corner = side_slope == corner_slope && corner_code < side_code;
        let best = if corner_slope > side_slope || tie_to_corner { corner_code } else { side_code };
        to[col] = if side_slope > 0.0 || corner_slope > 0.0 { best as u8 } else { NO_FALL };
    }
}

/// All eight slopes one after the other.
fn all_slopes(surface: &Patch<f32>, row: usize, distances: &[f64; 8], code: &mut Patch<u8>) {
    let offsets = surface.offsets();
    for cell in surface.row(row) {
        let here = f64::from(surface.values[cell]);
        let mut best = (0.0, NO_FALL);
        for position in 0..8 {
            let next = f64::from(surface.values[cell.wrapping_add_signed(offsets[position])]);
            // A comparison with missing data (NaN) is false.
            let slope = (here - next) / distances[position];
            if slope > best.0 {
                best = (slope, direction::of_neighbour(position));
            }
        }
        code.values[cell] = best.1;
    }
}

#[multiversion(targets = "simd")]
fn mark_without_fall(surface: &Patch<f32>, row: usize, code: &mut Patch<u8>) {
    let range = surface.row(row);
    let around = range.start - surface.stride - 1..range.end + surface.stride + 1;
    // Most rows have all their data: no early end, so that many cells are looked at together.
    if !surface.values[around].iter().fold(false, |missing, z| missing | z.is_nan()) {
        for code in &mut code.values[range] {
            *code = if *code == NO_FALL { ON_FLAT } else { *code };
        }
        return;
    }
    let (start, stride, cols) = (range.start, surface.stride, surface.cols);
    let around = [start - stride - 1, start - 1, start + stride - 1].map(|from| &surface.values[from..][..cols + 2]);
    for (col, code) in code.values[range].iter_mut().enumerate() {
        // No early end here either.
        let beside = |line: &[f32]| line[col].is_nan() | line[col + 1].is_nan() | line[col + 2].is_nan();
        let missing = beside(around[0]) | beside(around[1]) | beside(around[2]);
        let without_fall = if missing { direction::ENDS } else { ON_FLAT };
        let without_fall = if around[1][col + 1].is_nan() { direction::NODATA } else { without_fall };
        *code = if *code == NO_FALL { without_fall } else { *code };
    }
}
