//! Where the rasters of a run lie: in memory, or in working files in the output folder.

use std::convert::Infallible;
use std::fmt::Display;
use std::sync::Arc;

use fallwright_geodata::{
    ElevationRequest, OutputError, Problem, ReadError, ScratchFolder, ScratchRaster, ScratchValue, read_elevation,
    read_elevation_into, release_free_memory,
};
use fallwright_terrain::tiled::TileBasins;
use fallwright_terrain::{ConditioningStep, Memory, Store, StoredValue};
use fallwright_units::{Frame, SharedRaster, TileSink, TileSource, Window};
use thiserror::Error;

use super::Run;
use super::memory::{self, Cap};
use super::meter::{Meter, Metered};
use crate::Error;

/// A store of one run, which also reads its elevation.
pub(super) trait RunStore: Store<Error: Display + Into<Error>> {
    fn meter(&self) -> &Meter<'_>;

    /// The elevation model, metres.
    fn elevation(&self, request: &ElevationRequest, frame: Frame) -> Result<Self::Raster<f32>, Error>;
}

/// Rasters in memory, metered.
pub(super) struct MeteredMemory<'a> {
    pub(super) meter: &'a Meter<'a>,
}

impl<'a> Store for MeteredMemory<'a> {
    type Error = Infallible;
    type Raster<T: StoredValue> = Metered<'a, SharedRaster<T>>;

    fn raster<T: StoredValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, Infallible> {
        Ok(Metered { raster: Memory.raster(name, frame)?, meter: self.meter })
    }

    fn begin(&self, step: ConditioningStep) {
        release_free_memory();
        self.meter.begin(step.into());
    }
}

impl RunStore for MeteredMemory<'_> {
    fn meter(&self) -> &Meter<'_> {
        self.meter
    }

    fn elevation(&self, request: &ElevationRequest, _: Frame) -> Result<Self::Raster<f32>, Error> {
        Ok(Metered { raster: SharedRaster::new(read_elevation(request)?.ground), meter: self.meter })
    }
}

/// Working files in the staging folder.
pub(super) struct Files<'a> {
    pub(super) run: &'a Run<'a>,
    pub(super) folder: ScratchFolder,
    pub(super) cap: Arc<Cap>,
    pub(super) meter: &'a Meter<'a>,
}

impl<'a> Store for Files<'a> {
    type Error = FilesError;
    type Raster<T: StoredValue> = Metered<'a, CappedRaster<T>>;

    fn raster<T: StoredValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, FilesError> {
        let raster = self.folder.raster(name, frame).map_err(FilesError::Output)?;
        Ok(Metered { raster: CappedRaster { raster, cap: Arc::clone(&self.cap) }, meter: self.meter })
    }

    fn begin(&self, step: ConditioningStep) {
        release_free_memory();
        self.meter.begin(step.into());
    }

    fn admit(&self, basins: &[TileBasins]) -> Result<(), FilesError> {
        let passes: usize = basins.iter().map(|tile| tile.passes.len() + tile.ring.len()).sum();
        memory::check_room(self.run, passes as u64 * memory::PER_PASS).map_err(FilesError::Memory)
    }
}

impl RunStore for Files<'_> {
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
