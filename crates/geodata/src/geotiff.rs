//! `GeoTIFF` files.

use std::ffi::CString;
use std::path::Path;

use fallwright_units::Frame;
use gdal::raster::{Buffer, GdalType, RasterBand, RasterCreationOptions};
use gdal::{DriverManager, Metadata};

use crate::library::attempt_strictly;
use crate::output::{RasterMeta, RasterValues, WriteError};
use crate::{Crs, GeodataError};

pub(crate) fn write(
    path: &Path,
    frame: &Frame,
    crs: &Crs,
    values: RasterValues,
    meta: &RasterMeta,
) -> Result<(), WriteError> {
    match values {
        RasterValues::F32(values) => {
            let nodata = meta.nodata.or(Some(f64::NAN));
            write_typed(path, frame, crs, values, &RasterMeta { nodata, ..meta.clone() }, "PREDICTOR=3")
        }
        RasterValues::F64(values) => write_typed(path, frame, crs, values, meta, "PREDICTOR=3"),
        RasterValues::U8(values) => write_typed(path, frame, crs, values, meta, "PREDICTOR=2"),
        RasterValues::U32(values) => write_typed(path, frame, crs, values, meta, "PREDICTOR=2"),
    }
}

fn write_typed<T: GdalType + Copy>(
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
    let spatial = crs.flat()?;
    // The file is closed inside the trap, since a full disk may only show there.
    let write = || {
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
        dataset.set_geo_transform(&[
            frame.west(),
            frame.cell_width(),
            0.0,
            frame.north(),
            0.0,
            -frame.cell_height(),
        ])?;
        dataset.set_spatial_ref(&spatial)?;
        let mut band = dataset.rasterband(1)?;
        describe(&mut band, meta)?;
        write_cells(&mut band, frame, values)?;
        dataset.close()
    };
    attempt_strictly(write).map_err(|reason| GeodataError::Gdal { action: "writing a raster", reason })?;
    Ok(())
}

fn write_cells<T: GdalType + Copy>(band: &mut RasterBand, frame: &Frame, values: &[T]) -> gdal::errors::Result<()> {
    const ROWS_AT_ONCE: usize = 256;
    for (index, rows) in values.chunks(ROWS_AT_ONCE * frame.cols()).enumerate() {
        let size = (frame.cols(), rows.len() / frame.cols());
        band.write((0, (index * ROWS_AT_ONCE) as isize), size, &mut Buffer::new(size, rows.to_vec()))?;
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
