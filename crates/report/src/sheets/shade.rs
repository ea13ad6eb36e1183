//! The shape of the ground as a picture.

use fallwright_terrain::hillshade;
use fallwright_units::{Cell, Frame, Raster};
use geo::Rect;
use png::Compression;

use crate::drawing::MapPicture;
use crate::overview::Picture;
use crate::picture::grey_png;

/// Longest side of the picture, pixels (our choice).
const MOST_PIXELS: usize = 1500;
/// The same on a sheet (our choice).
const MOST_ON_SHEETS: usize = 700;
/// Heights are multiplied by this, since farmland is nearly flat (our choice).
const EXAGGERATION: f64 = 8.0;
/// Grey of the darkest shade; relief must not hide what lies over it (our choice).
const DARKEST: f32 = 150.0;

pub(crate) fn shade(ground: &Raster<f32>) -> Picture {
    let coarse = averaged(ground, ground.frame.cols().max(ground.frame.rows()).div_ceil(MOST_PIXELS));
    Picture { uri: grey_picture(&coarse, Compression::High), cell_m: coarse.frame.cell_width() }
}

/// The same within an extent, coarse enough for a sheet; `None` where the extent has no cell.
pub(crate) fn shade_within(ground: &Raster<f32>, extent: Rect<f64>) -> Option<MapPicture> {
    let frame = ground.frame;
    let clamped = |metres: f64, size: f64, most: usize| (metres / size).floor().clamp(0.0, most as f64) as usize;
    let first_col = clamped(extent.min().x - frame.west(), frame.cell_width(), frame.cols());
    let last_col = clamped(extent.max().x - frame.west() + frame.cell_width(), frame.cell_width(), frame.cols());
    let first_row = clamped(frame.north() - extent.max().y, frame.cell_height(), frame.rows());
    let last_row = clamped(frame.north() - extent.min().y + frame.cell_height(), frame.cell_height(), frame.rows());
    let (cols, rows) = (last_col.checked_sub(first_col)?, last_row.checked_sub(first_row)?);
    let west = frame.west() + first_col as f64 * frame.cell_width();
    let north = frame.north() - first_row as f64 * frame.cell_height();
    let part = Frame::new(cols, rows, (west, north), (frame.cell_width(), frame.cell_height())).ok()?;
    let cells = (0..part.len()).map(|index| {
        let (col, row) = part.col_row(Cell(index));
        ground[frame.cell(first_col + col, first_row + row)]
    });
    let part = Raster { frame: part, values: cells.collect() };
    let coarse = averaged(&part, cols.max(rows).div_ceil(MOST_ON_SHEETS));
    let (width, height) = (coarse.frame.cols() as f64, coarse.frame.rows() as f64);
    let (cell_width, cell_height) = (coarse.frame.cell_width(), coarse.frame.cell_height());
    let extent = Rect::new((west, north - height * cell_height), (west + width * cell_width, north));
    // There may be thousands of sheets.
    Some(MapPicture { uri: grey_picture(&coarse, Compression::Fast), extent })
}

fn grey_picture(surface: &Raster<f32>, compression: Compression) -> String {
    let grey = hillshade(surface, EXAGGERATION);
    let level = |&light: &f32| if light.is_nan() { 255 } else { (DARKEST + (255.0 - DARKEST) * light) as u8 };
    let pixels: Vec<u8> = grey.values.iter().map(level).collect();
    grey_png((surface.frame.cols() as u32, surface.frame.rows() as u32), &pixels, compression)
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
