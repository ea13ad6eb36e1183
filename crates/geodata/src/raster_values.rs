//! Cell values of a raster to write, and what its file says about them.

use fallwright_units::TileSource;

/// Cell values of a raster to write, row by row.
#[derive(Clone, Copy, Debug)]
pub enum RasterValues<'a> {
    /// NaN is nodata.
    F32(&'a [f32]),
    F64(&'a [f64]),
    U8(&'a [u8]),
    U32(&'a [u32]),
}

/// Cell values to write that are read window by window.
pub enum TileValues<'a, E> {
    /// NaN is nodata.
    F32(&'a dyn TileSource<f32, Error = E>),
    U8(&'a dyn TileSource<u8, Error = E>),
    U32(&'a dyn TileSource<u32, Error = E>),
    /// Written as Float64, which holds whole numbers up to 2⁵³ exactly.
    U64(&'a dyn TileSource<u64, Error = E>),
}

/// What a raster file says about its values.
#[derive(Clone, Debug, Default)]
pub struct RasterMeta<'a> {
    pub description: &'a str,
    pub unit: Option<&'a str>,
    /// NaN for `F32` where it is not given.
    pub nodata: Option<f64>,
    /// Names of coded values.
    pub categories: Option<Vec<(u8, String)>>,
}
