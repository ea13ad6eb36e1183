//! `GeoTIFF` files.

use std::ffi::CString;
use std::io;
use std::path::Path;

use fallwright_units::{Frame, TileSource, Window};
use gdal::raster::{Buffer, GdalType, RasterBand, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DriverManager, Metadata};

use crate::library::attempt_strictly;
use crate::output::{RasterMeta, RasterValues, ScratchValues, WriteError};
use crate::scratch::{ScratchRaster, ScratchValue};
use crate::{Crs, GeodataError};

pub(crate) fn write(
    path: &Path,
    frame: &Frame,
    crs: &Crs,
    values: RasterValues,
    meta: &RasterMeta,
) -> Result<(), WriteError> {
    match values {
        RasterValues::F32(values) => write_slice(path, frame, crs, values, &with_nan(meta), "PREDICTOR=3"),
        RasterValues::F64(values) => write_slice(path, frame, crs, values, meta, "PREDICTOR=3"),
        RasterValues::U8(values) => write_slice(path, frame, crs, values, meta, "PREDICTOR=2"),
        RasterValues::U32(values) => write_slice(path, frame, crs, values, meta, "PREDICTOR=2"),
    }
}

pub(crate) fn write_scratch(
    path: &Path,
    crs: &Crs,
    values: ScratchValues,
    meta: &RasterMeta,
) -> Result<(), WriteError> {
    match values {
        ScratchValues::F32(raster) => {
            write_rows(path, &raster.frame(), crs, rows_of(raster), &with_nan(meta), "PREDICTOR=3")
        }
        ScratchValues::U8(raster) => write_rows(path, &raster.frame(), crs, rows_of(raster), meta, "PREDICTOR=2"),
        ScratchValues::U32(raster) => write_rows(path, &raster.frame(), crs, rows_of(raster), meta, "PREDICTOR=2"),
        ScratchValues::U64(raster) => {
            let rows = |first: usize, into: &mut [f64]| {
                let mut counts = vec![0; into.len()];
                rows_of(raster)(first, &mut counts)?;
                into.iter_mut().zip(counts).for_each(|(value, count)| *value = count as f64);
                Ok(())
            };
            write_rows(path, &raster.frame(), crs, rows, meta, "PREDICTOR=3")
        }
    }
}

fn rows_of<T: ScratchValue>(raster: &ScratchRaster<T>) -> impl Fn(usize, &mut [T]) -> io::Result<()> + '_ {
    let cols = raster.frame().cols();
    move |first, into| {
        let window = Window { col: 0, row: first, cols, rows: into.len() / cols };
        raster.read_window(window, into, cols)
    }
}

fn with_nan<'a>(meta: &RasterMeta<'a>) -> RasterMeta<'a> {
    RasterMeta { nodata: meta.nodata.or(Some(f64::NAN)), ..meta.clone() }
}

fn write_slice<T: GdalType + Copy + Default>(
    path: &Path,
    frame: &Frame,
    crs: &Crs,
    values: &[T],
    meta: &RasterMeta,
    predictor: &str,
) -> Result<(), WriteError> {
    if values.len() != frame.len() {
        return Err(GeodataError::ValueCount { found: values.len(), expected: frame.len() }.into());
    }
    let rows = |first: usize, into: &mut [T]| {
        into.copy_from_slice(&values[first * frame.cols()..][..into.len()]);
        Ok(())
    };
    write_rows(path, frame, crs, rows, meta, predictor)
}

/// Writes a raster whose rows are handed over from `rows`: the first row's number and the values to set.
fn write_rows<T: GdalType + Copy + Default>(
    path: &Path,
    frame: &Frame,
    crs: &Crs,
    rows: impl Fn(usize, &mut [T]) -> io::Result<()>,
    meta: &RasterMeta,
    predictor: &str,
) -> Result<(), WriteError> {
    let spatial = crs.flat()?;
    // The file is closed inside the trap, since a full disk may only show there.
    let write = || -> Result<(), String> {
        let dataset = create::<T>(path, frame, &spatial, predictor).map_err(|error| error.to_string())?;
        let mut band = dataset.rasterband(1).map_err(|error| error.to_string())?;
        describe(&mut band, meta).map_err(|error| error.to_string())?;
        write_cells(&mut band, frame, rows)?;
        dataset.close().map_err(|error| error.to_string())
    };
    attempt_strictly(write).map_err(|reason| GeodataError::Gdal { action: "writing a raster", reason })?;
    Ok(())
}

fn create<T: GdalType>(
    path: &Path,
    frame: &Frame,
    spatial: &SpatialRef,
    predictor: &str,
) -> gdal::errors::Result<Dataset> {
    let driver = DriverManager::get_driver_by_name("GTiff")?;
    let options = RasterCreationOptions::from_iter([
        "TILED=YES",
        "BLOCKXSIZE=256",
        "BLOCKYSIZE=256",
        "COMPRESS=DEFLATE",
        predictor,
        "BIGTIFF=IF_SAFER",
    ]);
    let mut dataset =
        driver.create_with_band_type_with_options::<T, _>(path, frame.cols(), frame.rows(), 1, &options)?;
    dataset.set_geo_transform(&[frame.west(), frame.cell_width(), 0.0, frame.north(), 0.0, -frame.cell_height()])?;
    dataset.set_spatial_ref(spatial)?;
    Ok(dataset)
}

fn write_cells<T: GdalType + Copy + Default>(
    band: &mut RasterBand,
    frame: &Frame,
    rows: impl Fn(usize, &mut [T]) -> io::Result<()>,
) -> Result<(), String> {
    const ROWS_AT_ONCE: usize = 256;
    let mut values = vec![T::default(); frame.cols() * ROWS_AT_ONCE.min(frame.rows())];
    for first in (0..frame.rows()).step_by(ROWS_AT_ONCE) {
        let size = (frame.cols(), ROWS_AT_ONCE.min(frame.rows() - first));
        values.truncate(size.0 * size.1);
        rows(first, &mut values).map_err(|error| error.to_string())?;
        let mut buffer = Buffer::new(size, std::mem::take(&mut values));
        band.write((0, first as isize), size, &mut buffer).map_err(|error| error.to_string())?;
        values = buffer.into_shape_and_vec().1;
    }
    Ok(())
}

fn describe(band: &mut RasterBand, meta: &RasterMeta) -> gdal::errors::Result<()> {
    band.set_description(meta.description)?;
    if meta.nodata.is_some() {
        band.set_no_data_value(meta.nodata)?;
    }
    if let Some(unit) = meta.unit {
        let unit = CString::new(unit)?;
        // SAFETY: the band is live and GDAL copies the string.
        unsafe { gdal_sys::GDALSetRasterUnitType(band.c_rasterband(), unit.as_ptr()) };
    }
    if let Some(categories) = &meta.categories {
        set_categories(band, categories)?;
    }
    Ok(())
}

/// GDAL names values by their place in one list; values without a name have an empty one.
fn set_categories(band: &RasterBand, categories: &[(u8, String)]) -> gdal::errors::Result<()> {
    let length = categories.iter().map(|(value, _)| usize::from(*value) + 1).max().unwrap_or(0);
    let mut names = vec![CString::default(); length];
    for (value, name) in categories {
        names[usize::from(*value)] = CString::new(name.as_str())?;
    }
    let mut list: Vec<_> = names.iter().map(|name| name.as_ptr().cast_mut()).collect();
    list.push(std::ptr::null_mut());
    // SAFETY: the band is live; the list ends with a null, outlives the call, and GDAL copies it.
    unsafe { gdal_sys::GDALSetRasterCategoryNames(band.c_rasterband(), list.as_mut_ptr()) };
    Ok(())
}
