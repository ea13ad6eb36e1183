//! Where the rasters of a run lie: in memory, or in working files in the output folder.

use std::convert::Infallible;
use std::fmt::Display;

use fallwright_geodata::{
    ElevationRequest, OutputError, ReadError, ScratchFolder, ScratchRaster, ScratchValue, read_elevation,
    read_elevation_into,
};
use fallwright_units::{Frame, Raster, SharedRaster, TileSink};

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
pub(super) struct Files(pub(super) ScratchFolder);

impl Store for Files {
    const ON_FILE: bool = true;
    type Error = OutputError;
    type Raster<T: ScratchValue> = ScratchRaster<T>;

    fn raster<T: ScratchValue>(&self, name: &str, frame: Frame) -> Result<ScratchRaster<T>, OutputError> {
        self.0.raster(name, frame)
    }

    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<ScratchRaster<f32>, Failure> {
        let ground = self.raster("elevation", frame)?;
        read_elevation_into(request, &ground).map_err(|error| match error {
            ReadError::Input(problems) => Failure::Refused(problems),
            ReadError::Output(error) => error.into(),
        })?;
        Ok(ground)
    }
}
