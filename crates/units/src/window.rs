//! Rasters that are read and written a window at a time, in memory or on file.

use std::convert::Infallible;
use std::sync::{PoisonError, RwLock};

use crate::{Frame, Raster};

/// A rectangle of cells inside a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    pub col: usize,
    pub row: usize,
    pub cols: usize,
    pub rows: usize,
}

impl Window {
    /// Number of cells.
    pub const fn len(&self) -> usize {
        self.cols * self.rows
    }

    pub const fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Cell values that can be read by several threads, window by window.
pub trait TileSource<T>: Sync {
    type Error: Send;

    fn frame(&self) -> Frame;

    /// Copies a window; its row `r` goes to `into[r * stride..]`. The window lies inside the frame and `stride` is at
    /// least its width.
    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), Self::Error>;
}

/// Cell values that can be written by several threads, window by window.
pub trait TileSink<T>: TileSource<T> {
    /// Takes over a window; its row `r` comes from `from[r * stride..]`. Windows written at the same time do not overlap.
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), Self::Error>;
}

impl<T: Copy + Send + Sync> TileSource<T> for Raster<T> {
    type Error = Infallible;

    fn frame(&self) -> Frame {
        self.frame
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), Infallible> {
        let cols = self.frame.cols();
        for row in 0..window.rows {
            let start = (window.row + row) * cols + window.col;
            into[row * stride..][..window.cols].copy_from_slice(&self.values[start..start + window.cols]);
        }
        Ok(())
    }
}

/// A raster in memory that several threads may write to.
#[derive(Debug)]
pub struct SharedRaster<T> {
    frame: Frame,
    values: RwLock<Vec<T>>,
}

impl<T> SharedRaster<T> {
    pub fn new(raster: Raster<T>) -> Self {
        Self { frame: raster.frame, values: RwLock::new(raster.values) }
    }

    pub fn into_raster(self) -> Raster<T> {
        let values = self.values.into_inner().unwrap_or_else(PoisonError::into_inner);
        Raster { frame: self.frame, values }
    }
}

impl<T: Copy + Send + Sync> TileSource<T> for SharedRaster<T> {
    type Error = Infallible;

    fn frame(&self) -> Frame {
        self.frame
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), Infallible> {
        let values = self.values.read().unwrap_or_else(PoisonError::into_inner);
        for row in 0..window.rows {
            let start = (window.row + row) * self.frame.cols() + window.col;
            into[row * stride..][..window.cols].copy_from_slice(&values[start..start + window.cols]);
        }
        Ok(())
    }
}

impl<T: Copy + Send + Sync> TileSink<T> for SharedRaster<T> {
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), Infallible> {
        let mut values = self.values.write().unwrap_or_else(PoisonError::into_inner);
        for row in 0..window.rows {
            let start = (window.row + row) * self.frame.cols() + window.col;
            values[start..start + window.cols].copy_from_slice(&from[row * stride..][..window.cols]);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_written_is_the_window_read() {
        let frame = Frame::new(4, 3, (0.0, 0.0), (1.0, 1.0)).unwrap();
        let shared = SharedRaster::new(Raster::filled(frame, 0_u8));
        let window = Window { col: 1, row: 1, cols: 2, rows: 2 };
        shared.write(window, &[1, 2, 9, 3, 4, 9], 3).unwrap();
        let mut back = [0; 4];
        shared.read(window, &mut back, 2).unwrap();
        assert_eq!(back, [1, 2, 3, 4]);
        assert_eq!(shared.into_raster().values, [0, 0, 0, 0, 0, 1, 2, 0, 0, 3, 4, 0]);
    }
}
