//! Elevation taken to another reference system and cell size.

use std::ffi::CString;
use std::ptr;

use fallwright_units::{Frame, Raster};
use gdal::raster::Buffer;
use gdal::{Dataset, DriverManager};

use crate::library::attempt_strictly;
use crate::resampling::Resampling;
use crate::{Crs, GeodataError, Projector};

/// Memory that GDAL may use while it warps, in bytes.
pub(crate) const WORKING_BYTES: u64 = 64 << 20;

/// Edges of the frame that holds the image of a raster: west, south, east, north in whole cells from the origin.
///
/// # Errors
/// A raster that has no image in the target system.
pub(crate) fn target_cells(source: &Frame, projector: &Projector, cell: f64) -> Result<[f64; 4], GeodataError> {
    /// A side that lies this close to a cell's side is taken to lie on it, in cells.
    const ROUNDING: f64 = 1e-6;
    let [west, south, east, north] =
        projector.bounds([source.west(), source.south(), source.east(), source.north()])?;
    let down = |value: f64| (value / cell + ROUNDING).floor();
    let up = |value: f64| (value / cell - ROUNDING).ceil();
    Ok([down(west), down(south), up(east), up(north)])
}

/// Resamples heights to a frame in another reference system; NaN stays out of every mean, and NaN is written where the
/// source has nothing.
///
/// # Errors
/// [`GeodataError::Gdal`], for instance where part of the raster has no place in the target system.
pub(crate) fn warp(
    source: Raster<f32>,
    from: &Crs,
    target: Frame,
    to: &Crs,
    method: Resampling,
) -> Result<Raster<f32>, GeodataError> {
    let failed = |reason| GeodataError::Gdal { action: "warping the elevation model", reason };
    let input = in_memory(&source.frame, from, source.values).map_err(failed)?;
    let output = in_memory(&target, to, vec![f32::NAN; target.len()]).map_err(failed)?;
    attempt_strictly(|| warp_datasets(&input, from, &output, to, method)).map_err(failed)?;
    let values =
        attempt_strictly(|| output.rasterband(1)?.read_band_as::<f32>()).map_err(failed)?.into_shape_and_vec().1;
    Ok(Raster { frame: target, values })
}

pub(crate) fn in_memory<T: gdal::raster::GdalType + Copy>(
    frame: &Frame,
    crs: &Crs,
    values: Vec<T>,
) -> Result<Dataset, String> {
    let spatial = crs.flat().map_err(|error| error.to_string())?;
    attempt_strictly(|| {
        let driver = DriverManager::get_driver_by_name("MEM")?;
        let size = (frame.cols(), frame.rows());
        let mut dataset = driver.create_with_band_type::<T, _>("", size.0, size.1, 1)?;
        dataset.set_geo_transform(&[
            frame.west(),
            frame.cell_width(),
            0.0,
            frame.north(),
            0.0,
            -frame.cell_height(),
        ])?;
        dataset.set_spatial_ref(&spatial)?;
        dataset.rasterband(1)?.write((0, 0), size, &mut Buffer::new(size, values))?;
        Ok::<_, gdal::errors::GdalError>(dataset)
    })
}

fn warp_datasets(
    input: &Dataset,
    from: &Crs,
    output: &Dataset,
    to: &Crs,
    method: Resampling,
) -> Result<(), &'static str> {
    let definitions =
        [format!("SRC_SRS={}", from.wkt()), format!("DST_SRS={}", to.wkt()), "ALLOW_BALLPARK=NO".to_owned()]
            .map(|text| CString::new(text).expect("WKT comes from a C string and so holds no NUL"));
    let mut transformer_options = [
        definitions[0].as_ptr().cast_mut(),
        definitions[1].as_ptr().cast_mut(),
        definitions[2].as_ptr().cast_mut(),
        ptr::null_mut(),
    ];
    let (source, target) = (input.c_dataset(), output.c_dataset());
    // SAFETY: both datasets outlive the calls; every option list ends with a null and outlives its call; the arrays in
    // the warp options are allocated with GDAL's own allocator, which frees them with the options; transformer,
    // options and operation are each destroyed once, the operation before the transformer that it uses.
    unsafe {
        let transformer = gdal_sys::GDALCreateGenImgProjTransformer2(source, target, transformer_options.as_mut_ptr());
        if transformer.is_null() {
            return Err("no transformation between the two reference systems");
        }
        let options = gdal_sys::GDALCreateWarpOptions();
        (*options).hSrcDS = source;
        (*options).hDstDS = target;
        (*options).eResampleAlg = algorithm(method);
        (*options).eWorkingDataType = gdal_sys::GDALDataType::GDT_Float32;
        (*options).dfWarpMemoryLimit = WORKING_BYTES as f64;
        (*options).pfnTransformer = Some(gdal_sys::GDALGenImgProjTransform);
        (*options).pTransformerArg = transformer;
        gdal_sys::GDALWarpInitDefaultBandMapping(options, 1);
        gdal_sys::GDALWarpInitNoDataReal(options, f64::NAN);
        (*options).papszWarpOptions =
            gdal_sys::CSLSetNameValue((*options).papszWarpOptions, c"INIT_DEST".as_ptr(), c"NO_DATA".as_ptr());
        let operation = gdal_sys::GDALCreateWarpOperation(options);
        let mut done = gdal_sys::CPLErr::CE_Failure;
        if !operation.is_null() {
            let (cols, rows) = output.raster_size();
            done = gdal_sys::GDALChunkAndWarpImage(operation, 0, 0, cols as i32, rows as i32);
            gdal_sys::GDALDestroyWarpOperation(operation);
        }
        gdal_sys::GDALDestroyWarpOptions(options);
        gdal_sys::GDALDestroyGenImgProjTransformer(transformer);
        if done == gdal_sys::CPLErr::CE_None { Ok(()) } else { Err("the warp did not finish") }
    }
}

const fn algorithm(method: Resampling) -> gdal_sys::GDALResampleAlg::Type {
    match method {
        Resampling::Nearest => gdal_sys::GDALResampleAlg::GRA_NearestNeighbour,
        Resampling::Bilinear => gdal_sys::GDALResampleAlg::GRA_Bilinear,
        Resampling::Cubic => gdal_sys::GDALResampleAlg::GRA_Cubic,
        Resampling::CubicSpline => gdal_sys::GDALResampleAlg::GRA_CubicSpline,
        Resampling::Lanczos => gdal_sys::GDALResampleAlg::GRA_Lanczos,
        Resampling::Average => gdal_sys::GDALResampleAlg::GRA_Average,
    }
}
