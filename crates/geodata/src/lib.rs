//! Rasters, vectors, coordinate reference systems and units in; encoding and atomic writing out.
//!
//! The only crate that knows GDAL. What it hands out is plain data: `Frame`s and `Raster`s of `fallwright-units`,
//! `geo` geometries in the target reference system, attributes as text and numbers. Every fault found in an input is a
//! [`Problem`] that names file, layer and place, what was found, what was expected and what to do.

#![expect(clippy::result_large_err, reason = "a problem is made once for a faulty input, never in a loop over cells")]

mod attribute;
mod crs;
mod elevation;
mod feature_source;
mod geojson_file;
mod geopackage;
mod geotiff;
mod library;
mod memory;
mod mosaic;
mod output;
mod polygonize;
mod problem;
mod raster_values;
mod read_error;
mod resampling;
mod scratch;
mod shared_places;
#[cfg(test)]
mod testing;
mod tile;
mod vector;
mod warp;
mod write_error;

pub use attribute::Attribute;
pub use crs::{Crs, Projector, suitable_projected};
pub use elevation::{
    Elevation, ElevationDescription, ElevationRequest, describe_elevation, read_elevation, read_elevation_into,
};
pub use feature_source::{FeatureSource, Streamed};
pub use library::limit_cache;
pub use memory::release_free_memory;
pub use mosaic::LARGEST_CELL_M;
pub use output::{OutputError, OutputFolder, remove_partial_output, sha256};
pub use polygonize::outlines;
pub use problem::{At, GeodataError, Problem};
pub use raster_values::{RasterMeta, RasterValues, TileValues};
pub use read_error::ReadError;
pub use resampling::{Resampling, Warp};
pub use scratch::{ScratchFolder, ScratchRaster, ScratchValue};
pub use shared_places::SharedLine;
pub use vector::{VectorFeature, VectorLayer, read_vector};
