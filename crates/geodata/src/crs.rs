//! Coordinate reference systems and transformations between them.

use fallwright_units::VerticalUnit;

use crate::GeodataError;

/// A coordinate reference system as plain data.
#[derive(Clone, Debug, PartialEq)]
pub struct Crs {
    wkt: String,
}

impl Crs {
    pub fn from_text(_text: &str) -> Result<Self, GeodataError> {
        todo!()
    }
    pub fn code(&self) -> Option<&str> {
        todo!()
    }
    pub fn name(&self) -> &str {
        todo!()
    }
    pub fn wkt(&self) -> &str {
        &self.wkt
    }
    pub fn is_projected(&self) -> bool {
        todo!()
    }
    /// Name of the unit of the horizontal axes, and metres in one of it (radians for a geographic system's degree).
    pub fn linear_unit(&self) -> (&str, f64) {
        todo!()
    }
    pub fn vertical_unit(&self) -> Option<VerticalUnit> {
        todo!()
    }
}

/// Takes coordinates from one reference system to another, one direction; each thread builds its own.
pub struct Projector {}

impl Projector {
    pub fn new(_from: &Crs, _to: &Crs) -> Result<Self, GeodataError> {
        todo!()
    }
    pub fn to_lonlat(_from: &Crs) -> Result<Self, GeodataError> {
        todo!()
    }
    pub fn from_lonlat(_to: &Crs) -> Result<Self, GeodataError> {
        todo!()
    }
    pub fn point(&self, _point: (f64, f64)) -> Result<(f64, f64), GeodataError> {
        todo!()
    }
    pub fn geometry(&self, _geometry: &geo::Geometry<f64>) -> Result<geo::Geometry<f64>, GeodataError> {
        todo!()
    }
}

/// Code of a projected system in metres that suits a place, for instance `EPSG:26915`.
pub fn suitable_projected(_crs: &Crs, _longitude: f64, _latitude: f64) -> String {
    todo!()
}
