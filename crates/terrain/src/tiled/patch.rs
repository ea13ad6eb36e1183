//! A tile's values in a buffer with a margin of one cell all around.

use std::ops::Range;
use std::sync::{Mutex, PoisonError};

use fallwright_units::{Cell, Frame, NEIGHBOURS, TileSink, TileSource, Window};

/// Values of a tile with a margin of one cell, so that a neighbour is always at a fixed offset.
#[derive(Clone, Debug, Default)]
pub(crate) struct Patch<T> {
    pub(crate) cols: usize,
    pub(crate) rows: usize,
    pub(crate) stride: usize,
    pub(crate) values: Vec<T>,
}

impl<T: Copy> Patch<T> {
    /// Takes on the size of a tile, with one value everywhere.
    pub(crate) fn reset(&mut self, cols: usize, rows: usize, value: T) {
        (self.cols, self.rows, self.stride) = (cols, rows, cols + 2);
        self.values.clear();
        self.values.resize((cols + 2) * (rows + 2), value);
    }

    /// Takes on the size of a tile; where that is another than before, with one value everywhere.
    pub(crate) fn fit(&mut self, cols: usize, rows: usize, value: T) {
        if (self.cols, self.rows) != (cols, rows) {
            self.reset(cols, rows, value);
        }
    }

    /// Takes on the size of a tile, with one value in the margin. What is in the tile itself is to be written over: clearing
    /// it first would take as long as copying.
    pub(crate) fn surround(&mut self, cols: usize, rows: usize, value: T) {
        self.fit(cols, rows, value);
        let last = self.at(0, rows) - 1;
        self.values[..self.stride].fill(value);
        self.values[last..].fill(value);
        for row in 0..rows {
            let Range { start, end } = self.row(row);
            (self.values[start - 1], self.values[end]) = (value, value);
        }
    }

    /// Becomes the same as another.
    pub(crate) fn copy(&mut self, other: &Self) {
        (self.cols, self.rows, self.stride) = (other.cols, other.rows, other.stride);
        self.values.clone_from(&other.values);
    }

    /// Position in `values` of a cell of the tile.
    pub(crate) fn at(&self, col: usize, row: usize) -> usize {
        (row + 1) * self.stride + col + 1
    }

    /// The range of positions of a row of the tile.
    pub(crate) fn row(&self, row: usize) -> Range<usize> {
        let start = self.at(0, row);
        start..start + self.cols
    }

    /// Positions of the tile's cells, row by row.
    pub(crate) fn cells(&self) -> impl Iterator<Item = usize> + use<T> {
        let (cols, stride) = (self.cols, self.stride);
        (0..self.rows).flat_map(move |row| {
            let start = (row + 1) * stride + 1;
            start..start + cols
        })
    }

    /// Whether a position lies in the tile and not in its margin.
    pub(crate) fn is_inside(&self, position: usize) -> bool {
        let (col, row) = (position % self.stride, position / self.stride);
        (1..=self.cols).contains(&col) && (1..=self.rows).contains(&row)
    }

    /// A cell's place in its tile, as `row * cols + col` of it.
    pub(crate) fn number(&self, position: usize) -> u32 {
        ((position / self.stride - 1) * self.cols + position % self.stride - 1) as u32
    }

    /// Offsets to the neighbours, in the order of [`NEIGHBOURS`].
    pub(crate) fn offsets(&self) -> [isize; 8] {
        NEIGHBOURS.map(|(dc, dr)| dr as isize * self.stride as isize + dc as isize)
    }

    /// Positions of a cell's neighbours, in the order of [`NEIGHBOURS`]; also those in the margin.
    pub(crate) fn around(&self, index: usize) -> [usize; 8] {
        self.offsets().map(|offset| index.wrapping_add_signed(offset))
    }

    /// The lines of neighbours of a row's cells, in the order of [`NEIGHBOURS`].
    #[inline]
    pub(crate) fn lines_around(&self, row: usize) -> [&[T]; 8] {
        let start = self.at(0, row);
        self.offsets().map(|offset| &self.values[start.wrapping_add_signed(offset)..][..self.cols])
    }

    /// Takes in a tile; the margin holds `outside`.
    pub(crate) fn load<S: TileSource<T> + ?Sized>(
        &mut self,
        source: &S,
        window: Window,
        outside: T,
    ) -> Result<(), S::Error> {
        self.surround(window.cols, window.rows, outside);
        let first = self.at(0, 0);
        source.read(window, &mut self.values[first..], self.stride)
    }

    /// Takes in a tile with its margin; beyond the frame the margin holds `outside`.
    pub(crate) fn load_with_margin<S: TileSource<T> + ?Sized>(
        &mut self,
        source: &S,
        window: Window,
        outside: T,
    ) -> Result<(), S::Error> {
        self.surround(window.cols, window.rows, outside);
        let wider = with_margin(&source.frame(), window);
        let first = self.at(0, 0) - (window.row - wider.row) * self.stride - (window.col - wider.col);
        source.read(wider, &mut self.values[first..], self.stride)
    }

    /// Hands the tile over, without its margin.
    pub(crate) fn store<S: TileSink<T> + ?Sized>(&self, sink: &S, window: Window) -> Result<(), S::Error> {
        sink.write(window, &self.values[self.at(0, 0)..], self.stride)
    }
}

/// A window with the cells around it that lie in the frame.
pub(crate) fn with_margin(frame: &Frame, window: Window) -> Window {
    let (col, row) = (window.col.saturating_sub(1), window.row.saturating_sub(1));
    let cols = (window.col + window.cols + 1).min(frame.cols()) - col;
    let rows = (window.row + window.rows + 1).min(frame.rows()) - row;
    Window { col, row, cols, rows }
}

/// The value of one cell.
pub(crate) fn value<T: Copy + Default, S: TileSource<T> + ?Sized>(source: &S, cell: Cell) -> Result<T, S::Error> {
    let (col, row) = source.frame().col_row(cell);
    let mut value = [T::default()];
    source.read(Window { col, row, cols: 1, rows: 1 }, &mut value, 1)?;
    Ok(value[0])
}

/// Buffers that threads take and give back, so that no tile has to clear fresh pages.
#[derive(Debug, Default)]
pub(crate) struct Pool<W>(Mutex<Vec<W>>);

impl<W: Default> Pool<W> {
    pub(crate) fn with<R>(&self, work: impl FnOnce(&mut W) -> R) -> R {
        let taken = self.0.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let mut buffers = taken.unwrap_or_default();
        let result = work(&mut buffers);
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(buffers);
        result
    }
}
