//! Elevation in: one raster or several tiles on one lattice, in metres.

use std::path::PathBuf;

use fallwright_units::{Frame, Raster, VerticalUnit};

use crate::{Crs, Problem};

/// How values are found between cell centres when an elevation model is warped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Resampling {
    Nearest,
    Bilinear,
    Cubic,
    CubicSpline,
    Lanczos,
    Average,
}

impl Resampling {
    pub const ALL: [Self; 6] =
        [Self::Nearest, Self::Bilinear, Self::Cubic, Self::CubicSpline, Self::Lanczos, Self::Average];

    /// GDAL's word for the method, in lower case.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Nearest => "nearest",
            Self::Bilinear => "bilinear",
            Self::Cubic => "cubic",
            Self::CubicSpline => "cubicspline",
            Self::Lanczos => "lanczos",
            Self::Average => "average",
        }
    }

    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|method| method.name() == name)
    }
}

/// A wish to take the elevation model to another reference system and cell size.
#[derive(Clone, Debug, PartialEq)]
pub struct Warp {
    pub crs: String,
    pub cell_m: f64,
    pub method: Resampling,
}

/// What to read, and what the case says about it.
#[derive(Clone, Debug)]
pub struct ElevationRequest<'a> {
    /// Already expanded.
    pub files: &'a [PathBuf],
    pub vertical_unit: Option<VerticalUnit>,
    pub crs: Option<&'a str>,
    pub warp: Option<&'a Warp>,
    /// A raster that needs more is refused before anything of its size is allocated.
    pub max_bytes: u64,
}

/// An elevation model without its cells.
#[derive(Clone, Debug, PartialEq)]
pub struct ElevationDescription {
    pub frame: Frame,
    pub crs: Crs,
    /// As found in the files or the request; the values handed out are metres.
    pub vertical_unit: VerticalUnit,
    /// Bytes that reading takes at its peak.
    pub bytes: u64,
}

/// An elevation model: heights in metres, NaN where there is none.
#[derive(Clone, Debug)]
pub struct Elevation {
    pub ground: Raster<f32>,
    pub crs: Crs,
    /// As found before conversion to metres.
    pub vertical_unit: VerticalUnit,
}

pub fn describe_elevation(_request: &ElevationRequest) -> Result<ElevationDescription, Vec<Problem>> {
    todo!()
}

pub fn read_elevation(_request: &ElevationRequest) -> Result<Elevation, Vec<Problem>> {
    todo!()
}
