//! The shape of the ground as a picture.

use fallwright_report::{Picture, grey_png};
use fallwright_terrain::hillshade;
use fallwright_units::{Cell, Frame, Raster};

/// Longest side of the picture, pixels (our choice).
const MOST_PIXELS: usize = 1500;
/// Heights are multiplied by this, since farmland is nearly flat (our choice).
const EXAGGERATION: f64 = 8.0;
/// Grey of the darkest shade; relief must not hide what lies over it (our choice).
const DARKEST: f32 = 150.0;

pub(super) fn shade(ground: &Raster<f32>) -> Picture {
    let coarse = averaged(ground, ground.frame.cols().max(ground.frame.rows()).div_ceil(MOST_PIXELS));
    let grey = hillshade(&coarse, EXAGGERATION);
    let level = |&light: &f32| if light.is_nan() { 255 } else { (DARKEST + (255.0 - DARKEST) * light) as u8 };
    let pixels: Vec<u8> = grey.values.iter().map(level).collect();
    let frame = coarse.frame;
    Picture { uri: grey_png(frame.cols() as u32, frame.rows() as u32, &pixels), cell_m: frame.cell_width() }
}

/// Mean heights of blocks of so many cells a side. Blocks at the east and south edge may stand over it by a part of a cell
/// of the picture.
fn averaged(ground: &Raster<f32>, side: usize) -> Raster<f32> {
    let frame = ground.frame;
    let (cols, rows) = (frame.cols().div_ceil(side), frame.rows().div_ceil(side));
    let size = (frame.cell_width() * side as f64, frame.cell_height() * side as f64);
    let coarse = Frame::new(cols, rows, (frame.west(), frame.north()), size).expect("a frame of larger cells");
    let mean = |index: usize| {
        let (col, row) = coarse.col_row(Cell(index));
        let inside = |start: usize, end: usize| start * side..((start + 1) * side).min(end);
        let (mut sum, mut count) = (0.0, 0);
        for row in inside(row, frame.rows()) {
            for col in inside(col, frame.cols()) {
                let z = ground[frame.cell(col, row)];
                if !z.is_nan() {
                    sum += f64::from(z);
                    count += 1;
                }
            }
        }
        if count == 0 { f32::NAN } else { (sum / f64::from(count)) as f32 }
    };
    Raster { frame: coarse, values: (0..coarse.len()).map(mean).collect() }
}
