//! The output folder, and the rasters of every command that conditions terrain.

use std::path::{Path, PathBuf};

use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues};
use fallwright_terrain::{Conditioned, Flow, UNITS_PER_CELL, direction, spread_accumulation};
use fallwright_units::Raster;

use crate::error::WriteError;

/// Where results are written.
#[derive(Clone, Copy, Debug)]
pub struct Output<'a> {
    pub folder: &'a Path,
    /// Whether files in the folder may be replaced.
    pub overwrite: bool,
}

impl Output<'_> {
    /// The folder to write into.
    ///
    /// # Errors
    /// A folder that one of the inputs lies in, by its path or by the file that a link there leads to: an output of the same
    /// name would take its place. A folder that is not empty and may not be overwritten; one that cannot be written to.
    pub fn open(&self, inputs: &[&Path]) -> Result<OutputFolder, WriteError> {
        if let (Some(out), Some(input)) = (real(self.folder), self.input_inside(inputs)) {
            return Err(WriteError::HoldsInput { out, input: input.to_path_buf() });
        }
        Ok(OutputFolder::create(self.folder, self.overwrite)?)
    }

    fn input_inside<'a>(&self, inputs: &[&'a Path]) -> Option<&'a Path> {
        let out = real(self.folder)?;
        let lies_here = |file: &Path| file.parent().and_then(real).as_ref() == Some(&out);
        let leads_here = |file: &Path| file.canonicalize().is_ok_and(|file| lies_here(&file));
        inputs.iter().copied().find(|input| lies_here(input) || leads_here(input))
    }
}

/// A folder without links in its path; `None` where it does not exist.
fn real(folder: &Path) -> Option<PathBuf> {
    if folder == Path::new("") { Path::new(".") } else { folder }.canonicalize().ok()
}

/// Writes `ground.tif` and `direction.tif`.
pub(crate) fn write_terrain(folder: &mut OutputFolder, conditioned: &Conditioned, crs: &Crs) -> Result<(), WriteError> {
    let frame = &conditioned.surface.frame;
    folder.write_raster("ground.tif", frame, crs, RasterValues::F32(&conditioned.surface.values), &ground_meta())?;
    let codes = RasterValues::U8(&conditioned.flow.direction.values);
    Ok(folder.write_raster("direction.tif", frame, crs, codes, &direction_meta())?)
}

/// Writes `area_draining.tif`.
pub(crate) fn write_area(folder: &mut OutputFolder, area: &Raster<u32>, crs: &Crs) -> Result<(), WriteError> {
    let values = RasterValues::U32(&area.values);
    Ok(folder.write_raster("area_draining.tif", &area.frame, crs, values, &area_meta())?)
}

pub fn ground_meta() -> RasterMeta<'static> {
    RasterMeta { description: "conditioned ground", unit: Some("m"), ..RasterMeta::default() }
}

pub fn direction_meta() -> RasterMeta<'static> {
    RasterMeta {
        description: "flow direction, WMO-No. 306 code table 0700; 10 = carried by a structure",
        unit: None,
        nodata: Some(f64::from(direction::NODATA)),
        categories: Some(direction::NAMES.map(|(code, name)| (code, name.to_owned())).to_vec()),
    }
}

pub fn area_meta() -> RasterMeta<'static> {
    RasterMeta { description: "cells draining through each cell", unit: None, nodata: Some(0.0), categories: None }
}

pub const SPREAD: &str = "area_draining_spread.tif";

/// Writes [`SPREAD`]: cells draining through each cell where water spreads over two neighbours.
pub fn write_spread(
    folder: &mut OutputFolder,
    surface: &Raster<f32>,
    flow: &Flow,
    crs: &Crs,
) -> Result<(), WriteError> {
    let spread = spread_accumulation(surface, flow);
    // Exact: a power of two divides whole numbers far below 2^53.
    let cells: Vec<f64> = spread.values.iter().map(|&units| units as f64 / UNITS_PER_CELL as f64).collect();
    let meta = RasterMeta {
        description: "cells draining through each cell, spread over two neighbours (D-infinity); a picture of wetness",
        unit: None,
        nodata: Some(0.0),
        categories: None,
    };
    folder.write_raster(SPREAD, &spread.frame, crs, RasterValues::F64(&cells), &meta)?;
    Ok(())
}
