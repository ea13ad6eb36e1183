//! The shape of the ground as light and shade, in pictures as fine as they can show.

use fallwright_terrain::hillshade;
use fallwright_units::{Cell, Frame, Raster};
use geo::Rect;
use png::Compression;

use crate::picture::grey_png;

/// Longest side of the picture of all the ground, pixels (our choice).
const MOST_PIXELS: usize = 1500;
/// The same of a picture on a sheet (our choice).
const MOST_ON_SHEETS: usize = 700;
/// Heights are multiplied by this, since farmland is nearly flat (our choice).
const EXAGGERATION: f64 = 8.0;
/// Grey of the darkest shade; relief must not hide what lies over it (our choice).
const DARKEST: f32 = 150.0;
const WHITE: u8 = 255;

/// Light and shade of the ground at cells of its own size and of twice, four times ... that size: thousands of sheets draw
/// from these, a byte for each cell.
#[derive(Debug)]
pub(crate) struct Relief {
    /// From the finest on; the coarsest has no side longer than a picture on a sheet.
    grey: Vec<Raster<u8>>,
}

/// A picture of the ground as a `data:` address, and where it lies.
pub(crate) struct ReliefPicture {
    pub(crate) uri: String,
    pub(crate) extent: Rect<f64>,
    pub(crate) cell_m: f64,
}

impl Relief {
    /// *Complexity*: O(n) for n cells of the ground.
    pub(crate) fn of(ground: &Raster<f32>) -> Self {
        let mut grey = vec![grey_of(ground)];
        let mut coarse = None;
        while longest_side(&grey[grey.len() - 1].frame) > MOST_ON_SHEETS {
            let next = halved(coarse.as_ref().unwrap_or(ground));
            grey.push(grey_of(&next));
            coarse = Some(next);
        }
        Self { grey }
    }

    /// All of the ground.
    pub(crate) fn whole(&self) -> ReliefPicture {
        let fits = |grey: &&Raster<u8>| longest_side(&grey.frame) <= MOST_PIXELS;
        let grey = self.grey.iter().find(fits).expect("the coarsest has fewer pixels");
        picture(grey, (0, grey.frame.cols()), (0, grey.frame.rows()), Compression::High)
    }

    /// The ground within an extent, coarse enough for a sheet; `None` where the extent has no cell.
    pub(crate) fn within(&self, extent: Rect<f64>) -> Option<ReliefPicture> {
        let fits = |grey: &Raster<u8>| {
            let frame = grey.frame;
            let pixels = (extent.width() / frame.cell_width()).max(extent.height() / frame.cell_height());
            pixels <= MOST_ON_SHEETS as f64 || longest_side(&frame) <= MOST_ON_SHEETS
        };
        let grey = self.grey.iter().find(|grey| fits(grey)).expect("the coarsest fits");
        let frame = grey.frame;
        let clamped = |cells: f64, most: usize| cells.clamp(0.0, most as f64) as usize;
        let col = |x: f64| (x - frame.west()) / frame.cell_width();
        let row = |y: f64| (frame.north() - y) / frame.cell_height();
        let cols =
            (clamped(col(extent.min().x).floor(), frame.cols()), clamped(col(extent.max().x).ceil(), frame.cols()));
        let rows =
            (clamped(row(extent.max().y).floor(), frame.rows()), clamped(row(extent.min().y).ceil(), frame.rows()));
        // There may be thousands of sheets.
        (cols.0 < cols.1 && rows.0 < rows.1).then(|| picture(grey, cols, rows, Compression::Fast))
    }
}

fn longest_side(frame: &Frame) -> usize {
    frame.cols().max(frame.rows())
}

/// The part of a raster between columns and between rows.
fn picture(grey: &Raster<u8>, cols: (usize, usize), rows: (usize, usize), compression: Compression) -> ReliefPicture {
    let frame = grey.frame;
    let line = |row: usize| &grey.values[frame.cell(cols.0, row).0..][..cols.1 - cols.0];
    let pixels: Vec<u8> = (rows.0..rows.1).flat_map(line).copied().collect();
    let size = ((cols.1 - cols.0) as u32, (rows.1 - rows.0) as u32);
    let x = |col: usize| frame.west() + col as f64 * frame.cell_width();
    let y = |row: usize| frame.north() - row as f64 * frame.cell_height();
    ReliefPicture {
        uri: grey_png(size, &pixels, compression),
        extent: Rect::new((x(cols.0), y(rows.1)), (x(cols.1), y(rows.0))),
        cell_m: frame.cell_width(),
    }
}

fn grey_of(ground: &Raster<f32>) -> Raster<u8> {
    let light = hillshade(ground, EXAGGERATION);
    let level = |light: f32| if light.is_nan() { WHITE } else { (DARKEST + (255.0 - DARKEST) * light) as u8 };
    Raster { frame: ground.frame, values: light.values.into_iter().map(level).collect() }
}

/// Mean heights of blocks of two by two cells. Blocks at the east and south edge may stand over it by a cell.
fn halved(ground: &Raster<f32>) -> Raster<f32> {
    let frame = ground.frame;
    let size = (2.0 * frame.cell_width(), 2.0 * frame.cell_height());
    let (cols, rows) = (frame.cols().div_ceil(2), frame.rows().div_ceil(2));
    let coarse = Frame::new(cols, rows, (frame.west(), frame.north()), size).expect("a frame of larger cells");
    let mean = |index: usize| {
        let (col, row) = coarse.col_row(Cell(index));
        let (last_col, last_row) = ((2 * col + 1).min(frame.cols() - 1), (2 * row + 1).min(frame.rows() - 1));
        let block = (2 * row..=last_row).flat_map(|row| (2 * col..=last_col).map(move |col| (col, row)));
        let heights = block.map(|(col, row)| ground[frame.cell(col, row)]).filter(|height| !height.is_nan());
        let (count, sum) = heights.fold((0.0, 0.0), |(count, sum), height| (count + 1.0, sum + f64::from(height)));
        // No height at all: zero by zero is not a number.
        (sum / count) as f32
    };
    Raster { frame: coarse, values: (0..coarse.len()).map(mean).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(cols: usize, rows: usize) -> Raster<f32> {
        let frame = Frame::new(cols, rows, (1000.0, 2000.0), (2.0, 2.0)).unwrap();
        Raster { frame, values: (0..frame.len()).map(|index| (index % cols) as f32).collect() }
    }

    #[test]
    fn blocks_at_the_edge_and_without_data_have_the_mean_of_what_they_hold() {
        let mut ground = ground(3, 3);
        for cell in [0, 6, 7, 8] {
            ground.values[cell] = f32::NAN;
        }
        let coarse = halved(&ground);
        assert_eq!((coarse.frame.cols(), coarse.frame.rows(), coarse.frame.cell_width()), (2, 2, 4.0));
        assert_eq!(coarse.values[..2], [(1.0 + 0.0 + 1.0) / 3.0, 2.0]);
        assert!(coarse.values[2].is_nan() && coarse.values[3].is_nan());
    }

    #[test]
    fn a_picture_is_as_fine_as_the_sheet_can_show() {
        let relief = Relief::of(&ground(1600, 20));
        let check = |extent: ((f64, f64), (f64, f64)), expected: Option<(f64, [f64; 4])>| {
            let found = relief.within(Rect::new(extent.0, extent.1));
            let found = found.map(|picture| {
                let (min, max) = (picture.extent.min(), picture.extent.max());
                (picture.cell_m, [min.x, min.y, max.x, max.y])
            });
            assert_eq!(found, expected, "{extent:?}");
        };
        check(((1001.0, 1990.0), (1011.0, 1997.0)), Some((2.0, [1000.0, 1990.0, 1012.0, 1998.0])));
        check(((1000.0, 1960.0), (1000.0 + 1402.0, 2000.0)), Some((4.0, [1000.0, 1960.0, 2404.0, 2000.0])));
        check(((0.0, 0.0), (10_000.0, 5000.0)), Some((8.0, [1000.0, 1960.0, 4200.0, 2000.0])));
        check(((0.0, 0.0), (900.0, 5000.0)), None);
        assert_eq!(relief.whole().cell_m, 4.0);
    }
}
