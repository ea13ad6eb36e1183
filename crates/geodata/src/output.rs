//! Output files: complete or absent, never half-written.

use std::path::{Path, PathBuf};

use fallwright_units::Frame;
use thiserror::Error;

use crate::{Crs, GeodataError};

#[derive(Debug, Error)]
pub enum OutputError {
    #[error("the output folder {} exists and is not empty", folder.display())]
    NotEmpty { folder: PathBuf },
    #[error("{}: cannot be written: {reason}", path.display())]
    NotWritten { path: PathBuf, reason: String },
    #[error("the output name {name:?} is not a plain file name")]
    Name { name: String },
    #[error("the output {name} is written twice")]
    Twice { name: String },
    #[error("{name}: {source}")]
    Encoding { name: String, source: GeodataError },
}

/// Cell values of a raster to write, row by row.
#[derive(Clone, Copy, Debug)]
pub enum RasterValues<'a> {
    /// NaN is nodata.
    F32(&'a [f32]),
    F64(&'a [f64]),
    U8(&'a [u8]),
    U32(&'a [u32]),
}

/// What a raster file says about its values.
#[derive(Clone, Debug, Default)]
pub struct RasterMeta<'a> {
    pub description: &'a str,
    pub unit: Option<&'a str>,
    pub nodata: Option<f64>,
    pub categories: Option<Vec<(u8, String)>>,
}

/// A staging folder inside the output folder; nothing has its final name until [`OutputFolder::commit`].
#[derive(Debug)]
pub struct OutputFolder {}

impl OutputFolder {
    pub fn create(_dir: &Path, _overwrite: bool) -> Result<Self, OutputError> {
        todo!()
    }
    pub fn write_bytes(&mut self, _name: &str, _bytes: &[u8]) -> Result<(), OutputError> {
        todo!()
    }
    pub fn write_geojson(
        &mut self,
        _name: &str,
        _features: &geojson::FeatureCollection,
        _crs: &Crs,
    ) -> Result<(), OutputError> {
        todo!()
    }
    pub fn write_raster(
        &mut self,
        _name: &str,
        _frame: &Frame,
        _crs: &Crs,
        _values: RasterValues,
        _meta: &RasterMeta,
    ) -> Result<(), OutputError> {
        todo!()
    }
    pub fn write_geopackage(
        &mut self,
        _name: &str,
        _layers: &[(&str, &geojson::FeatureCollection)],
        _crs: &Crs,
    ) -> Result<(), OutputError> {
        todo!()
    }
    /// Name and SHA-256 (hexadecimal) of every file written so far, by name.
    pub fn digests(&self) -> Vec<(String, String)> {
        todo!()
    }
    pub fn commit(self) -> Result<(), OutputError> {
        todo!()
    }
}

/// Removes every staging folder of this process; for the interrupt handler.
pub fn remove_partial_output() {
    todo!()
}
