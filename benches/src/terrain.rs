//! Terrains to measure on: rolling ground with noise, flats, lakes, ditches, embankments and a rim without data.

use fallwright_units::{Frame, Raster};
use rayon::prelude::*;

/// Cells of half a metre, as township lidar has.
const CELL_M: f64 = 0.5;
/// Heights are recorded to the centimetre, which makes flats.
const RECORDED_M: f32 = 0.01;
/// Cells between ditches, and between the embankments that cross them.
pub(crate) const DITCH_EVERY: usize = 211;
const EMBANKMENT_EVERY: usize = 797;
/// Cells between the openings of an embankment.
const OPENING_EVERY: usize = 613;
/// The rim without data, cells.
const RIM: usize = 20;

/// A square terrain; the same for the same side, whoever makes it and however often.
pub(crate) fn terrain(side: usize) -> Raster<f32> {
    let frame = Frame::new(side, side, (0.0, 0.0), (CELL_M, CELL_M)).expect("a bench raster has cells");
    let mut ground = Raster::filled(frame, f32::NAN);
    ground.values.par_chunks_mut(side).enumerate().for_each(|(row, heights)| {
        for (col, height) in heights.iter_mut().enumerate() {
            *height = height_at(col, row, side);
        }
    });
    ground
}

fn height_at(col: usize, row: usize, side: usize) -> f32 {
    let rim = RIM + (6.0 * noise(col, row, 64, 11)) as usize;
    if col < rim || row < rim || col + rim >= side || row + rim >= side {
        return f32::NAN;
    }
    let rolling = 18.0 * noise(col, row, 3001, 1) + 6.0 * noise(col, row, 701, 2) + 1.5 * noise(col, row, 149, 3);
    let rough = 0.4 * noise(col, row, 31, 4) + 0.12 * noise(col, row, 7, 5) + 0.03 * unit(col, row, 6);
    let tilt = (col + 2 * row) as f32 * 0.002;
    let lake = noise(col, row, 1201, 7);
    let mut height = 200.0 + rolling + rough - tilt;
    if lake > 0.88 {
        // Level water, a little lower for each lake further south.
        height = 196.0 - (row / 1201) as f32 * 2.0;
    } else if row % EMBANKMENT_EVERY < 6 && col % OPENING_EVERY > 10 {
        height += 1.5;
    } else if col % DITCH_EVERY < 2 {
        height -= 0.8;
    }
    (height / RECORDED_M).round() * RECORDED_M
}

/// Smooth noise from 0 to 1 with bumps of a number of cells.
fn noise(col: usize, row: usize, cells: usize, layer: u64) -> f32 {
    let part = |position: usize| {
        let t = (position % cells) as f32 / cells as f32;
        (position / cells, t * t * (3.0 - 2.0 * t))
    };
    let ((c, x), (r, y)) = (part(col), part(row));
    let at = |c, r| unit(c, r, layer);
    let north = at(c, r) + (at(c + 1, r) - at(c, r)) * x;
    let south = at(c, r + 1) + (at(c + 1, r + 1) - at(c, r + 1)) * x;
    north + (south - north) * y
}

/// A number from 0 to 1 that looks like chance (the finaliser of the `SplitMix64` generator: S. Steele, D. Lea & C. Flood
/// (2014), Fast splittable pseudorandom number generators, OOPSLA).
fn unit(col: usize, row: usize, layer: u64) -> f32 {
    let mut x = (col as u64) << 32 ^ row as u64 ^ layer << 58;
    x = (x ^ x >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ x >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((x ^ x >> 31) >> 40) as f32 / (1_u64 << 24) as f32
}
