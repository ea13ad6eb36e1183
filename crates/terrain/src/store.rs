//! Where the rasters of conditioning lie: in memory, or wherever else a store puts them.

use std::convert::Infallible;

use bytemuck::Pod;
use fallwright_units::{Frame, Raster, SharedRaster, TileSink};

use crate::tiled::TileBasins;

/// A value of a raster in a store.
pub trait StoredValue: Pod + Default + Send + Sync {}

impl<T: Pod + Default + Send + Sync> StoredValue for T {}

/// Makes the rasters that [`crate::condition_in`] works on, and follows its steps.
pub trait Store {
    type Error: Send;
    type Raster<T: StoredValue>: TileSink<T, Error = Self::Error>;

    /// A raster of default values. At most one of a name is there at a time.
    ///
    /// # Errors
    /// No room for it.
    fn raster<T: StoredValue>(&self, name: &str, frame: Frame) -> Result<Self::Raster<T>, Self::Error>;

    /// A step begins; what the one before needed is given up.
    fn begin(&self, _step: ConditioningStep) {}

    /// The basins of all tiles are known, which are then joined in memory.
    ///
    /// # Errors
    /// Too little memory for that.
    fn admit(&self, _basins: &[TileBasins]) -> Result<(), Self::Error> {
        Ok(())
    }
}

/// The steps of conditioning that take time, in their order; the first two only where cuts are allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConditioningStep {
    FillingToCut,
    Cutting,
    Filling,
    Directions,
}

/// Rasters in memory.
#[derive(Clone, Copy, Debug, Default)]
pub struct Memory;

impl Store for Memory {
    type Error = Infallible;
    type Raster<T: StoredValue> = SharedRaster<T>;

    fn raster<T: StoredValue>(&self, _: &str, frame: Frame) -> Result<SharedRaster<T>, Infallible> {
        Ok(SharedRaster::new(Raster::filled(frame, T::default())))
    }
}
