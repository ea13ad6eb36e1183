//! How an elevation model is taken to another reference system and cell size.

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
