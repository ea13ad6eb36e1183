//! `GeoTIFF` files.

use std::ffi::CString;
use std::fmt::Display;
use std::path::Path;

use fallwright_units::{Frame, TileSource, Window};
use gdal::errors::GdalError;
use gdal::raster::{Buffer, GdalType, RasterBand, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DriverManager, Metadata};

use crate::library::attempt_strictly;
use crate::raster_values::{RasterMeta, RasterValues, TileValues};
use crate::write_error::WriteError;
use crate::{Crs, GeodataError};

/// Columns and rows of a block of a file.
const BLOCK: usize = 256;

/// Longest side, in cells, of a raster without overviews (our choice: a screen shows it whole).
const LARGEST_WITHOUT_OVERVIEWS: usize = 512;

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

pub(crate) fn write_tiles<E: Display + Send>(
    path: &Path,
    crs: &Crs,
    values: &TileValues<E>,
    meta: &RasterMeta,
) -> Result<(), WriteError> {
    match *values {
        TileValues::F32(source) => {
            write_cells(path, &source.frame(), crs, cells_of(source), &with_nan(meta), "PREDICTOR=3")
        }
        TileValues::U8(source) => write_cells(path, &source.frame(), crs, cells_of(source), meta, "PREDICTOR=2"),
        TileValues::U32(source) => write_cells(path, &source.frame(), crs, cells_of(source), meta, "PREDICTOR=2"),
        TileValues::U64(source) => {
            let cells = |window: Window, into: &mut [f64], stride: usize| {
                let mut counts = vec![0; into.len()];
                cells_of(source)(window, &mut counts, stride)?;
                into.iter_mut().zip(counts).for_each(|(value, count)| *value = count as f64);
                Ok(())
            };
            write_cells(path, &source.frame(), crs, cells, meta, "PREDICTOR=3")
        }
    }
}

fn cells_of<T, E: Display + Send>(
    source: &dyn TileSource<T, Error = E>,
) -> impl Fn(Window, &mut [T], usize) -> Result<(), String> + '_ {
    |window, into, stride| source.read(window, into, stride).map_err(|error| error.to_string())
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
    let cells = |window: Window, into: &mut [T], stride: usize| {
        for row in 0..window.rows {
            let start = frame.cell(window.col, window.row + row).0;
            into[row * stride..][..window.cols].copy_from_slice(&values[start..][..window.cols]);
        }
        Ok(())
    };
    write_cells(path, frame, crs, cells, meta, predictor)
}

/// Writes a raster whose cells are handed over by `cells`: a window, and where its rows go, a stride apart.
///
/// GDAL's cache of blocks empties in an order that depends on its size and on what else is in it. Therefore each block goes
/// past it, once and whole: those of the raster from north to south and west to east, then those of the copy of half the
/// size, and so on. GDAL compresses several at once and writes them in the order in which it was given them.
fn write_cells<T: GdalType + Copy + Default>(
    path: &Path,
    frame: &Frame,
    crs: &Crs,
    cells: impl Fn(Window, &mut [T], usize) -> Result<(), String>,
    meta: &RasterMeta,
    predictor: &str,
) -> Result<(), WriteError> {
    let spatial = crs.flat()?;
    let factors = overview_factors(frame);
    // The file is closed inside the trap, since a full disk may only show there.
    let write = || -> Result<(), String> {
        let message = |error: GdalError| error.to_string();
        let mut dataset = create::<T>(path, frame, &spatial, predictor).map_err(message)?;
        describe(&mut dataset.rasterband(1).map_err(message)?, meta).map_err(message)?;
        if !factors.is_empty() {
            dataset.build_overviews("NONE", &factors, &[]).map_err(message)?;
        }
        let mut band = dataset.rasterband(1).map_err(message)?;
        write_blocks(&mut band, &cells)?;
        for (level, &factor) in factors.iter().enumerate() {
            let mut overview = band.overview(level).map_err(message)?;
            write_blocks(&mut overview, nearest(frame, factor as usize, &cells))?;
        }
        dataset.close().map_err(message)
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
    let threads = format!("NUM_THREADS={}", rayon::current_num_threads());
    let options = RasterCreationOptions::from_iter([
        "TILED=YES",
        "BLOCKXSIZE=256",
        "BLOCKYSIZE=256",
        "COMPRESS=DEFLATE",
        "ZLEVEL=5",
        predictor,
        "BIGTIFF=IF_SAFER",
        &threads,
    ]);
    let mut dataset =
        driver.create_with_band_type_with_options::<T, _>(path, frame.cols(), frame.rows(), 1, &options)?;
    dataset.set_geo_transform(&[frame.west(), frame.cell_width(), 0.0, frame.north(), 0.0, -frame.cell_height()])?;
    dataset.set_spatial_ref(spatial)?;
    Ok(dataset)
}

/// By how much the overviews of a raster are smaller: each half the one before, down to a single block. A raster of few blocks
/// needs none.
fn overview_factors(frame: &Frame) -> Vec<i32> {
    let side = frame.cols().max(frame.rows());
    if side <= LARGEST_WITHOUT_OVERVIEWS {
        return Vec::new();
    }
    (1..31).map(|halvings| 1 << halvings).take_while(|factor| side * 2 > BLOCK * *factor as usize).collect()
}

/// Writes every block of a band, each once.
fn write_blocks<T: GdalType + Copy + Default>(
    band: &mut RasterBand,
    cells: impl Fn(Window, &mut [T], usize) -> Result<(), String>,
) -> Result<(), String> {
    let (cols, rows) = band.size();
    if band.block_size() != (BLOCK, BLOCK) {
        return Err(format!("the blocks are of {:?} cells", band.block_size()));
    }
    let mut block = Buffer::new((BLOCK, BLOCK), vec![T::default(); BLOCK * BLOCK]);
    for row in (0..rows).step_by(BLOCK) {
        for col in (0..cols).step_by(BLOCK) {
            let window = Window { col, row, cols: BLOCK.min(cols - col), rows: BLOCK.min(rows - row) };
            if window.len() < BLOCK * BLOCK {
                block.data_mut().fill(T::default());
            }
            cells(window, block.data_mut(), BLOCK)?;
            band.write_block((col / BLOCK, row / BLOCK), &mut block).map_err(|error| error.to_string())?;
        }
    }
    Ok(())
}

/// The cells of an overview: each has the value of the cell of the raster at its centre (south-east of it, where four meet), since
/// codes and counts have no average and a height between two was never measured.
fn nearest<T: Copy + Default>(
    frame: &Frame,
    factor: usize,
    cells: impl Fn(Window, &mut [T], usize) -> Result<(), String>,
) -> impl Fn(Window, &mut [T], usize) -> Result<(), String> {
    let (cols, rows) = (frame.cols(), frame.rows());
    move |window, into, stride| {
        let first = window.col * factor;
        let mut line = vec![T::default(); (window.cols * factor).min(cols - first)];
        for (row, into) in into.chunks_mut(stride).take(window.rows).enumerate() {
            let row = ((window.row + row) * factor + factor / 2).min(rows - 1);
            cells(Window { col: first, row, cols: line.len(), rows: 1 }, &mut line, cols)?;
            for (place, value) in into[..window.cols].iter_mut().enumerate() {
                *value = line[(place * factor + factor / 2).min(line.len() - 1)];
            }
        }
        Ok(())
    }
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

#[cfg(test)]
#[path = "geotiff_tests.rs"]
mod tests;
