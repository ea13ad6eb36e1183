//! Where the rasters of a run lie: in memory, or in working files in the output folder.

use std::convert::Infallible;
use std::fmt::Display;
use std::sync::Arc;

use fallwright_geodata::{
    ElevationRequest, OutputError, Problem, ReadError, ScratchFolder, ScratchRaster, ScratchValue, read_elevation,
    read_elevation_into,
};
use fallwright_units::{Frame, Raster, SharedRaster, TileSink, TileSource, Window};
use thiserror::Error;

use super::memory::Cap;
use crate::failure::Failure;

pub(super) trait Store {
    const ON_FILE: bool;
    type Error: Display + Send + Into<Failure>;
    type Raster<T: ScratchValue>: TileSink<T, Error = Self::Error>;

    fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, Self::Error>;

    /// The elevation model, metres.
    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<Self::Raster<f32>, Failure>;
}

pub(super) struct Memory;

impl Store for Memory {
    const ON_FILE: bool = false;
    type Error = Infallible;
    type Raster<T: ScratchValue> = SharedRaster<T>;

    fn raster<T: ScratchValue>(&self, _: &str, frame: Frame) -> Result<SharedRaster<T>, Infallible> {
        Ok(SharedRaster::new(Raster::filled(frame, T::default())))
    }

    fn elevation(&self, request: &ElevationRequest, _: Frame) -> Result<SharedRaster<f32>, Failure> {
        Ok(SharedRaster::new(read_elevation(request)?.ground))
    }
}

/// Working files in the staging folder.
pub(super) struct Files {
    pub(super) folder: ScratchFolder,
    pub(super) cap: Arc<Cap>,
}

impl Store for Files {
    const ON_FILE: bool = true;
    type Error = FilesError;
    type Raster<T: ScratchValue> = CappedRaster<T>;

    fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<CappedRaster<T>, FilesError> {
        let raster = self.folder.raster(name, frame).map_err(FilesError::Output)?;
        Ok(CappedRaster { raster, cap: Arc::clone(&self.cap) })
    }

    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<CappedRaster<f32>, Failure> {
        let ground = self.raster("elevation", frame)?;
        read_elevation_into(request, &ground.raster).map_err(|error| match error {
            ReadError::Input(problems) => Failure::Refused(problems),
            ReadError::Output(error) => error.into(),
        })?;
        Ok(ground)
    }
}

#[derive(Debug, Error)]
pub(super) enum FilesError {
    #[error("{0}")]
    Output(OutputError),
    #[error("{0}")]
    Memory(Box<Problem>),
}

impl From<FilesError> for Failure {
    fn from(error: FilesError) -> Self {
        match error {
            FilesError::Output(error) => error.into(),
            FilesError::Memory(problem) => Self::Refused(vec![*problem]),
        }
    }
}

/// A working file that is neither read nor written once the run takes more memory than it may: how much stays in memory
/// depends on the ground, and is known only as it is worked on.
pub(super) struct CappedRaster<T> {
    raster: ScratchRaster<T>,
    cap: Arc<Cap>,
}

impl<T> CappedRaster<T> {
    fn check(&self, window: Window) -> Result<(), FilesError> {
        // Looking costs more than a small window.
        const SMALL: usize = 1 << 14;
        if window.len() < SMALL { Ok(()) } else { self.cap.check().map_err(FilesError::Memory) }
    }
}

impl<T: ScratchValue> TileSource<T> for CappedRaster<T> {
    type Error = FilesError;

    fn frame(&self) -> Frame {
        self.raster.frame()
    }

    fn read(&self, window: Window, into: &mut [T], stride: usize) -> Result<(), FilesError> {
        self.check(window)?;
        self.raster.read(window, into, stride).map_err(FilesError::Output)
    }
}

impl<T: ScratchValue> TileSink<T> for CappedRaster<T> {
    fn write(&self, window: Window, from: &[T], stride: usize) -> Result<(), FilesError> {
        self.check(window)?;
        self.raster.write(window, from, stride).map_err(FilesError::Output)
    }
}
