//! Rasters on file while a command works, for terrain larger than memory.

use std::fs::{self, File, OpenOptions};
use std::io;
use std::marker::PhantomData;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};

use fallwright_units::{Frame, TileSink, TileSource, Window};

use crate::OutputError;

/// A value that scratch files hold.
pub trait ScratchValue: Copy + Default + Send + Sync {
    /// Bytes of one value.
    const BYTES: usize;

    fn write(self, bytes: &mut [u8]);

    fn read(bytes: &[u8]) -> Self;
}

macro_rules! scratch_value {
    ($($type:ty),*) => {$(
        impl ScratchValue for $type {
            const BYTES: usize = size_of::<$type>();

            fn write(self, bytes: &mut [u8]) {
                bytes.copy_from_slice(&self.to_ne_bytes());
            }

            fn read(bytes: &[u8]) -> Self {
                Self::from_ne_bytes(bytes.try_into().expect("a chunk has the bytes of one value"))
            }
        }
    )*};
}

scratch_value!(u8, u32, u64, f32);

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

/// Cell values in a file of their own, row by row, that goes when this does. Values never written are 0.
#[derive(Debug)]
pub struct ScratchRaster<T> {
    frame: Frame,
    file: File,
    path: PathBuf,
    values: PhantomData<T>,
}

impl<T: ScratchValue> ScratchRaster<T> {
    fn create(path: PathBuf, frame: Frame) -> Result<Self, OutputError> {
        let file = OpenOptions::new().read(true).write(true).create_new(true).open(&path);
        let file = file.and_then(|file| file.set_len(Self::bytes(&frame)).map(|()| file));
        let file = file.map_err(|error| failed(&path, &error))?;
        Ok(Self { frame, file, path, values: PhantomData })
    }

    /// Bytes that the file takes.
    pub fn bytes(frame: &Frame) -> u64 {
        frame.len() as u64 * T::BYTES as u64
    }

    fn read_window(&self, window: Window, into: &mut [T], stride: usize) -> io::Result<()> {
        let mut bytes = vec![0; window.cols * T::BYTES];
        for row in 0..window.rows {
            self.file.read_exact_at(&mut bytes, self.offset(window, row))?;
            for (value, bytes) in into[row * stride..][..window.cols].iter_mut().zip(bytes.chunks_exact(T::BYTES)) {
                *value = T::read(bytes);
            }
        }
        Ok(())
    }

    fn write_window(&self, window: Window, from: &[T], stride: usize) -> io::Result<()> {
        let mut bytes = vec![0; window.cols * T::BYTES];
        for row in 0..window.rows {
            for (value, bytes) in from[row * stride..][..window.cols].iter().zip(bytes.chunks_exact_mut(T::BYTES)) {
                value.write(bytes);
            }
            self.file.write_all_at(&bytes, self.offset(window, row))?;
        }
        Ok(())
    }

    fn offset(&self, window: Window, row: usize) -> u64 {
        let cell = self.frame.cell(window.col, window.row + row);
        cell.0 as u64 * T::BYTES as u64
    }
}

impl<T: ScratchValue> TileSource<T> for ScratchRaster<T> {
    type Error = OutputError;

    fn frame(&self) -> Frame {
        self.frame
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), OutputError> {
        self.read_window(window, into, stride).map_err(|error| failed(&self.path, &error))
    }
}

impl<T: ScratchValue> TileSink<T> for ScratchRaster<T> {
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), OutputError> {
        self.write_window(window, from, stride).map_err(|error| failed(&self.path, &error))
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
