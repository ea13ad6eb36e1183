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
use super::meter::{Meter, Metered};
use crate::Error;

pub(super) trait Store {
    const ON_FILE: bool;
    type Error: Display + Send + Into<Error>;
    type Raster<T: ScratchValue>: TileSink<T, Error = Self::Error>;

    fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, Self::Error>;

    fn meter(&self) -> &Meter<'_>;

    /// The elevation model, metres.
    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<Self::Raster<f32>, Error>;
}

pub(super) struct Memory<'a> {
    pub(super) meter: &'a Meter<'a>,
}

impl<'a> Memory<'a> {
    fn metered<T>(&self, raster: Raster<T>) -> Metered<'a, SharedRaster<T>> {
        Metered { raster: SharedRaster::new(raster), meter: self.meter }
    }
}

impl<'a> Store for Memory<'a> {
    const ON_FILE: bool = false;
    type Error = Infallible;
    type Raster<T: ScratchValue> = Metered<'a, SharedRaster<T>>;

    fn raster<T: ScratchValue>(&self, _: &str, frame: Frame) -> Result<Self::Raster<T>, Infallible> {
        Ok(self.metered(Raster::filled(frame, T::default())))
    }

    fn meter(&self) -> &Meter<'_> {
        self.meter
    }

    fn elevation(&self, request: &ElevationRequest, _: Frame) -> Result<Self::Raster<f32>, Error> {
        Ok(self.metered(read_elevation(request)?.ground))
    }
}

/// Working files in the staging folder.
pub(super) struct Files<'a> {
    pub(super) folder: ScratchFolder,
    pub(super) cap: Arc<Cap>,
    pub(super) meter: &'a Meter<'a>,
}

impl<'a> Store for Files<'a> {
    const ON_FILE: bool = true;
    type Error = FilesError;
    type Raster<T: ScratchValue> = Metered<'a, CappedRaster<T>>;

    fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, FilesError> {
        let raster = self.folder.raster(name, frame).map_err(FilesError::Output)?;
        Ok(Metered { raster: CappedRaster { raster, cap: Arc::clone(&self.cap) }, meter: self.meter })
    }

    fn meter(&self) -> &Meter<'_> {
        self.meter
    }

    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<Self::Raster<f32>, Error> {
        let ground = self.raster("elevation", frame)?;
        read_elevation_into(request, &ground).map_err(|error| match error {
            ReadError::Input(problems) => Error::Refused(problems),
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

impl From<FilesError> for Error {
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
