//! Where a cell lies: frames (extent and cell size), cell positions and rasters.
//!
//! Rows run from north to south, columns from west to east; a cell's index is `row * cols + col`. Map coordinates are
//! `(x, y)` in metres of a projected coordinate reference system; the frame's corner is the north-west corner of the
//! north-west cell (not its centre).

use thiserror::Error;

/// Column and row steps to the eight neighbours, in the order of WMO-No. 306 code table 0700:
/// 1 NE, 2 E, 3 SE, 4 S, 5 SW, 6 W, 7 NW, 8 N.
pub const NEIGHBOURS: [(i32, i32); 8] = [(1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1)];

/// A cell's index in its frame, row by row from the north-west corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cell(pub usize);

/// Extent and cell size of a raster, in metres of a projected coordinate reference system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    cols: usize,
    rows: usize,
    west: f64,
    north: f64,
    cell_width: f64,
    cell_height: f64,
}

#[derive(Clone, Debug, PartialEq, Error)]
pub enum FrameError {
    #[error("a raster needs at least one column and one row, found {cols} x {rows}")]
    Empty { cols: usize, rows: usize },
    #[error("a cell needs a positive finite width and height, found {width} x {height}")]
    CellSize { width: f64, height: f64 },
    #[error("the raster's corner must be finite, found ({west}, {north})")]
    Corner { west: f64, north: f64 },
}

impl Frame {
    /// `west` and `north` are the outer corner of the first cell; `cell_width` and `cell_height` are positive.
    ///
    /// # Errors
    /// No cells, a cell size that is not positive and finite, or a corner that is not finite.
    pub fn new(
        cols: usize,
        rows: usize,
        (west, north): (f64, f64),
        (cell_width, cell_height): (f64, f64),
    ) -> Result<Self, FrameError> {
        let positive = |size: f64| size.is_finite() && size > 0.0;
        if cols == 0 || rows == 0 {
            return Err(FrameError::Empty { cols, rows });
        }
        if !positive(cell_width) || !positive(cell_height) {
            return Err(FrameError::CellSize { width: cell_width, height: cell_height });
        }
        if !west.is_finite() || !north.is_finite() {
            return Err(FrameError::Corner { west, north });
        }
        Ok(Self { cols, rows, west, north, cell_width, cell_height })
    }

    pub const fn cols(&self) -> usize {
        self.cols
    }

    pub const fn rows(&self) -> usize {
        self.rows
    }

    /// Number of cells.
    pub const fn len(&self) -> usize {
        self.cols * self.rows
    }

    pub const fn is_empty(&self) -> bool {
        self.len() == 0
    }

    pub const fn west(&self) -> f64 {
        self.west
    }

    pub const fn north(&self) -> f64 {
        self.north
    }

    pub fn east(&self) -> f64 {
        self.west + self.cols as f64 * self.cell_width
    }

    pub fn south(&self) -> f64 {
        self.north - self.rows as f64 * self.cell_height
    }

    pub const fn cell_width(&self) -> f64 {
        self.cell_width
    }

    pub const fn cell_height(&self) -> f64 {
        self.cell_height
    }

    pub fn cell_square_metres(&self) -> f64 {
        self.cell_width * self.cell_height
    }

    /// Hectares of a number of cells.
    pub fn hectares(&self, cells: u64) -> f64 {
        cells as f64 * self.cell_square_metres() / crate::SQUARE_METRES_PER_HECTARE
    }

    pub const fn cell(&self, col: usize, row: usize) -> Cell {
        Cell(row * self.cols + col)
    }

    /// `(col, row)` of a cell.
    #[inline]
    pub const fn col_row(&self, cell: Cell) -> (usize, usize) {
        (cell.0 % self.cols, cell.0 / self.cols)
    }

    /// Map coordinates `(x, y)` of a cell's centre.
    #[inline]
    pub fn centre(&self, cell: Cell) -> (f64, f64) {
        let (col, row) = self.col_row(cell);
        (self.centre_x(col), self.centre_y(row))
    }

    pub fn centre_x(&self, col: usize) -> f64 {
        self.west + (col as f64 + 0.5) * self.cell_width
    }

    pub fn centre_y(&self, row: usize) -> f64 {
        self.north - (row as f64 + 0.5) * self.cell_height
    }

    /// The cell that holds a point: its west and north sides belong to it, its east and south sides to the next cell.
    /// `None` outside the frame.
    pub fn cell_at(&self, (x, y): (f64, f64)) -> Option<Cell> {
        let col = ((x - self.west) / self.cell_width).floor();
        let row = ((self.north - y) / self.cell_height).floor();
        let inside = col >= 0.0 && row >= 0.0 && col < self.cols as f64 && row < self.rows as f64;
        inside.then(|| self.cell(col as usize, row as usize))
    }

    /// The neighbour at a column and row step; `None` beyond the edge.
    #[inline]
    pub fn step(&self, cell: Cell, (dc, dr): (i32, i32)) -> Option<Cell> {
        let (col, row) = self.col_row(cell);
        let col = col.checked_add_signed(dc as isize)?;
        let row = row.checked_add_signed(dr as isize)?;
        (col < self.cols && row < self.rows).then(|| self.cell(col, row))
    }

    /// The neighbours inside the frame with their position (0 to 7) in [`NEIGHBOURS`].
    #[inline]
    pub fn neighbours(&self, cell: Cell) -> impl Iterator<Item = (usize, Cell)> + '_ {
        NEIGHBOURS
            .iter()
            .enumerate()
            .filter_map(move |(position, &step)| self.step(cell, step).map(|cell| (position, cell)))
    }

    /// Metres between the centres of two cells.
    pub fn distance(&self, a: Cell, b: Cell) -> f64 {
        let ((ac, ar), (bc, br)) = (self.col_row(a), self.col_row(b));
        let dx = ac.abs_diff(bc) as f64 * self.cell_width;
        let dy = ar.abs_diff(br) as f64 * self.cell_height;
        dx.hypot(dy)
    }
}

/// Values of every cell of a frame, row by row.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster<T> {
    pub frame: Frame,
    pub values: Vec<T>,
}

impl<T: Clone> Raster<T> {
    pub fn filled(frame: Frame, value: T) -> Self {
        Self { frame, values: vec![value; frame.len()] }
    }
}

impl<T> std::ops::Index<Cell> for Raster<T> {
    type Output = T;

    #[inline]
    fn index(&self, cell: Cell) -> &T {
        &self.values[cell.0]
    }
}

impl<T> std::ops::IndexMut<Cell> for Raster<T> {
    #[inline]
    fn index_mut(&mut self, cell: Cell) -> &mut T {
        &mut self.values[cell.0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame() -> Frame {
        Frame::new(4, 3, (100.0, 200.0), (10.0, 10.0)).unwrap()
    }

    #[test]
    fn a_point_falls_in_the_cell_whose_west_and_north_sides_hold_it() {
        let check = |point, expected: Option<(usize, usize)>| {
            assert_eq!(frame().cell_at(point), expected.map(|(col, row)| frame().cell(col, row)));
        };
        check((100.0, 200.0), Some((0, 0)));
        check((109.9, 190.1), Some((0, 0)));
        check((110.0, 190.0), Some((1, 1)));
        check((139.9, 170.1), Some((3, 2)));
        check((140.0, 180.0), None);
        check((99.9, 180.0), None);
    }

    #[test]
    fn centre_and_cell_agree() {
        for index in 0..frame().len() {
            assert_eq!(frame().cell_at(frame().centre(Cell(index))), Some(Cell(index)));
        }
    }

    #[test]
    fn neighbours_stop_at_the_edge() {
        assert_eq!(frame().neighbours(frame().cell(0, 0)).count(), 3);
        assert_eq!(frame().neighbours(frame().cell(1, 1)).count(), 8);
        assert_eq!(frame().step(frame().cell(3, 0), (1, 0)), None);
    }

    #[test]
    fn a_frame_without_cells_or_with_a_bad_cell_is_refused() {
        assert!(Frame::new(0, 3, (0.0, 0.0), (1.0, 1.0)).is_err());
        assert!(Frame::new(3, 3, (0.0, 0.0), (1.0, 0.0)).is_err());
        assert!(Frame::new(3, 3, (f64::NAN, 0.0), (1.0, 1.0)).is_err());
    }
}
