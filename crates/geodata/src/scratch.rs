//! Rasters on file while a command works, for terrain larger than memory.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use bytemuck::Pod;
use fallwright_units::{Frame, TileSink, TileSource, Window};

use crate::OutputError;

/// A value that working files hold.
pub trait ScratchValue: Pod + Default + Send + Sync {}

impl<T: Pod + Default + Send + Sync> ScratchValue for T {}

/// Where working files go; it goes with its output folder's staging folder.
#[derive(Clone, Debug)]
pub struct ScratchFolder(PathBuf);

impl ScratchFolder {
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self(folder)
    }

    /// A working file of its own.
    ///
    /// # Errors
    /// [`OutputError::Scratch`] where it cannot be made.
    pub fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<ScratchRaster<T>, OutputError> {
        ScratchRaster::create(self.0.join(name), frame)
    }
}

/// Columns and rows of a square; those at the east and south may be smaller.
const SIDE: usize = 256;

/// Cell values in a file of their own that goes when this does. Values never written are 0.
///
/// They lie square by square, each row by row and with a copy of its west and of its east column: whole squares and the
/// margins around them, which is what is mostly asked for, take one request each instead of one for every row.
#[derive(Debug)]
pub struct ScratchRaster<T> {
    frame: Frame,
    file: File,
    path: PathBuf,
    /// Squares on their way, kept from one to the next so that no memory has to be cleared.
    buffers: Mutex<Vec<Vec<T>>>,
}

impl<T: ScratchValue> ScratchRaster<T> {
    fn create(path: PathBuf, frame: Frame) -> Result<Self, OutputError> {
        let file = OpenOptions::new().read(true).write(true).create_new(true).open(&path);
        let file = file.and_then(|file| file.set_len(Self::bytes(&frame)).map(|()| file));
        let file = file.map_err(|error| failed(&path, &error))?;
        Ok(Self { frame, file, path, buffers: Mutex::default() })
    }

    /// Bytes that the file takes.
    pub fn bytes(frame: &Frame) -> u64 {
        let squares = frame.cols().div_ceil(SIDE) * frame.rows().div_ceil(SIDE);
        squares as u64 * Self::offset(SQUARE)
    }

    fn offset(values: usize) -> u64 {
        values as u64 * size_of::<T>() as u64
    }

    fn read_values(&self, first: usize, into: &mut [T]) -> io::Result<()> {
        self.file.read_exact_at(bytemuck::cast_slice_mut(into), Self::offset(first))
    }

    fn write_values(&self, first: usize, from: &[T]) -> io::Result<()> {
        self.file.write_all_at(bytemuck::cast_slice(from), Self::offset(first))
    }

    fn with_buffer<R>(&self, work: impl FnOnce(&mut [T]) -> R) -> R {
        let taken = self.buffers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let mut buffer = taken.unwrap_or_else(|| vec![T::default(); SQUARE]);
        let result = work(&mut buffer);
        self.buffers.lock().unwrap_or_else(PoisonError::into_inner).push(buffer);
        result
    }

    fn read_part(&self, part: &Piece, into: &mut [T], stride: usize) -> io::Result<()> {
        let into = &mut into[part.row * stride + part.col..];
        let inside = part.inside;
        if part.is_whole_rows() {
            return self.with_buffer(|buffer| {
                let values = &mut buffer[..inside.len()];
                self.read_values(part.first(inside.row), values)?;
                for (row, values) in values.chunks_exact(inside.cols).enumerate() {
                    into[row * stride..][..inside.cols].copy_from_slice(values);
                }
                Ok(())
            });
        }
        if let Some(column) = part.edge_columns().find(|_| inside.cols == 1) {
            return self.with_buffer(|buffer| {
                let values = &mut buffer[..inside.rows];
                self.read_values(column.first, values)?;
                values.iter().enumerate().for_each(|(row, &value)| into[row * stride] = value);
                Ok(())
            });
        }
        (0..inside.rows).try_for_each(|row| {
            self.read_values(part.first(inside.row + row), &mut into[row * stride..][..inside.cols])
        })
    }

    fn write_part(&self, part: &Piece, from: &[T], stride: usize) -> io::Result<()> {
        let from = &from[part.row * stride + part.col..];
        let inside = part.inside;
        self.with_buffer(|buffer| {
            let (values, columns) = buffer.split_at_mut(inside.len());
            if part.is_whole_rows() {
                for (row, values) in values.chunks_exact_mut(inside.cols).enumerate() {
                    values.copy_from_slice(&from[row * stride..][..inside.cols]);
                }
                self.write_values(part.first(inside.row), values)?;
            } else {
                for row in 0..inside.rows {
                    self.write_values(part.first(inside.row + row), &from[row * stride..][..inside.cols])?;
                }
            }
            part.edge_columns().try_for_each(|column| {
                let values = &mut columns[..inside.rows];
                values.iter_mut().enumerate().for_each(|(row, value)| *value = from[row * stride + column.col]);
                self.write_values(column.first, values)
            })
        })
    }
}

/// Values of a square with its copies of two columns.
const SQUARE: usize = SIDE * SIDE + 2 * SIDE;

/// The part of a window that lies in one square.
struct Piece {
    /// Where it begins in the window.
    col: usize,
    row: usize,
    /// Where the square begins in the file, in values.
    start: usize,
    /// Columns and rows of the square.
    cols: usize,
    rows: usize,
    /// The part inside the square.
    inside: Window,
}

/// What a part holds of a column that is kept twice.
struct EdgeColumn {
    /// Where the copy begins in the file, in values.
    first: usize,
    /// Its column in the part.
    col: usize,
}

impl Piece {
    fn is_whole_rows(&self) -> bool {
        self.inside.cols == self.cols
    }

    /// Where the part's values in a row of the square begin in the file, in values.
    fn first(&self, row: usize) -> usize {
        self.start + row * self.cols + self.inside.col
    }

    fn edge_columns(&self) -> impl Iterator<Item = EdgeColumn> {
        let inside = self.inside;
        let copies = self.start + self.cols * self.rows + inside.row;
        let west = (inside.col == 0).then_some(EdgeColumn { first: copies, col: 0 });
        let is_east = inside.col + inside.cols == self.cols;
        let east = is_east.then(|| EdgeColumn { first: copies + self.rows, col: inside.cols - 1 });
        west.into_iter().chain(east)
    }
}

/// The parts of a window by square.
fn parts(frame: &Frame, window: Window) -> impl Iterator<Item = Piece> {
    let (cols, rows, across) = (frame.cols(), frame.rows(), frame.cols().div_ceil(SIDE));
    let squares =
        |first: usize, count: usize| if count == 0 { 0..0 } else { first / SIDE..(first + count).div_ceil(SIDE) };
    let of_row = move |down: usize| {
        let (row, south) = (window.row.max(down * SIDE), (window.row + window.rows).min((down + 1) * SIDE));
        squares(window.col, window.cols).map(move |right| {
            let (col, east) = (window.col.max(right * SIDE), (window.col + window.cols).min((right + 1) * SIDE));
            let inside =
                Window { col: col - right * SIDE, row: row - down * SIDE, cols: east - col, rows: south - row };
            Piece {
                col: col - window.col,
                row: row - window.row,
                start: (down * across + right) * SQUARE,
                cols: SIDE.min(cols - right * SIDE),
                rows: SIDE.min(rows - down * SIDE),
                inside,
            }
        })
    };
    squares(window.row, window.rows).flat_map(of_row)
}

impl<T: ScratchValue> TileSource<T> for ScratchRaster<T> {
    type Error = OutputError;

    fn frame(&self) -> Frame {
        self.frame
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), OutputError> {
        let read = parts(&self.frame, window).try_for_each(|part| self.read_part(&part, into, stride));
        read.map_err(|error| failed(&self.path, &error))
    }
}

impl<T: ScratchValue> TileSink<T> for ScratchRaster<T> {
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), OutputError> {
        let written = parts(&self.frame, window).try_for_each(|part| self.write_part(&part, from, stride));
        written.map_err(|error| failed(&self.path, &error))
    }
}

impl<T> Drop for ScratchRaster<T> {
    fn drop(&mut self) {
        // What is left behind goes with the staging folder.
        let _ = fs::remove_file(&self.path);
    }
}

/// The folder is named: the file itself goes, and its user never asked for it.
fn failed(path: &Path, error: &io::Error) -> OutputError {
    let folder = path.parent().and_then(Path::parent).unwrap_or(path);
    OutputError::Scratch { folder: folder.to_owned(), reason: error.to_string() }
}

#[cfg(test)]
mod tests {
    use fallwright_units::Raster;
    use proptest::prelude::*;

    use super::*;

    fn window(cols: usize, rows: usize) -> impl Strategy<Value = Window> {
        let span = |length: usize| (0..length).prop_flat_map(move |first| (Just(first), 1..=length - first));
        (span(cols), span(rows)).prop_map(|((col, cols), (row, rows))| Window { col, row, cols, rows })
    }

    fn case() -> impl Strategy<Value = (usize, usize, Vec<(bool, Window)>)> {
        let side = || prop_oneof![Just(1_usize), Just(255), Just(256), Just(257), Just(512), 1..700_usize];
        (side(), side()).prop_flat_map(|(cols, rows)| {
            // Whole squares with and without their margin, and any other window.
            let square =
                (0..cols.div_ceil(SIDE), 0..rows.div_ceil(SIDE), 0..2_usize).prop_map(move |(right, down, margin)| {
                    let (col, row) = ((right * SIDE).saturating_sub(margin), (down * SIDE).saturating_sub(margin));
                    let east = ((right + 1) * SIDE + margin).min(cols);
                    let south = ((down + 1) * SIDE + margin).min(rows);
                    Window { col, row, cols: east - col, rows: south - row }
                });
            let windows = prop::collection::vec((any::<bool>(), prop_oneof![square, window(cols, rows)]), 1..20);
            (Just(cols), Just(rows), windows)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn windows_are_those_of_a_raster_in_memory((cols, rows, windows) in case()) {
            let folder = tempfile::tempdir().unwrap();
            let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
            let on_file = ScratchFolder::new(folder.path().to_owned()).raster::<u32>("values", frame).unwrap();
            let mut in_memory = Raster::filled(frame, 0_u32);
            for (number, (is_written, window)) in (1..).zip(windows) {
                let stride = window.cols + 2;
                if is_written {
                    let values: Vec<u32> = (0..(stride * window.rows) as u32).map(|place| number << 24 | place).collect();
                    on_file.write(window, &values, stride).unwrap();
                    for row in 0..window.rows {
                        let first = frame.cell(window.col, window.row + row).0;
                        in_memory.values[first..][..window.cols].copy_from_slice(&values[row * stride..][..window.cols]);
                    }
                }
                let (mut found, mut expected) = (vec![7; stride * window.rows], vec![7; stride * window.rows]);
                on_file.read(window, &mut found, stride).unwrap();
                let Ok(()) = in_memory.read(window, &mut expected, stride);
                prop_assert_eq!(found, expected);
            }
        }
    }
}
