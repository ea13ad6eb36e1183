//! `GeoJSON` as RFC 7946 has it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use geo::orient::{Direction, Orient};
use geo::{BoundingRect, CoordsIter, MapCoords};
use geojson::{Feature, GeometryValue};

use crate::write_error::WriteError;
use crate::{Crs, FeatureSource, GeodataError, Projector};

/// Bytes written at once (our choice).
pub(crate) const BUFFER: usize = 1 << 20;

/// One feature a line. Decimals: 9, a tenth of a millimetre on the ground (RFC 7946, section 11.2, leaves it open).
pub(crate) fn write(path: &Path, name: &str, features: &dyn FeatureSource, crs: &Crs) -> Result<(), WriteError> {
    let projector = Projector::to_lonlat(crs)?;
    settle(&projector, features)?;
    let mut file = BufWriter::with_capacity(BUFFER, File::create(path)?);
    begin(&mut file, name)?;
    for (index, feature) in features.each().enumerate() {
        let feature = to_lonlat(feature.into_owned(), &projector)?;
        write!(file, "{}\n{feature}", if index == 0 { "" } else { "," })?;
    }
    end(file)
}

/// What stands before the first feature.
pub(crate) fn begin(file: &mut impl Write, name: &str) -> Result<(), WriteError> {
    let name = serde_json::Value::from(name);
    Ok(write!(file, "{{\"type\":\"FeatureCollection\",\"name\":{name},\"features\":[")?)
}

/// Writes what stands after the last feature, and makes the file durable.
pub(crate) fn end(mut file: BufWriter<File>) -> Result<(), WriteError> {
    file.write_all(b"\n]}\n")?;
    Ok(file.into_inner().map_err(std::io::IntoInnerError::into_error)?.sync_all()?)
}

/// Lets the projector choose its transformation by the first feature for whose beginning or middle there is one: some may
/// lie or reach far from the rest, where none is meant to be used.
fn settle(projector: &Projector, features: &dyn FeatureSource) -> Result<(), GeodataError> {
    let mut failure = None;
    for feature in features.each() {
        let Some(geometry) = &feature.geometry else { continue };
        let plain = to_geo(geometry)?;
        let middle = plain.bounding_rect().map(geo::Rect::center);
        for at in plain.coords_iter().take(1).chain(middle) {
            match projector.point((at.x, at.y)) {
                Ok(_) => return Ok(()),
                Err(error) => failure = failure.or(Some(error)),
            }
        }
    }
    failure.map_or(Ok(()), Err)
}

fn to_lonlat(feature: Feature, projector: &Projector) -> Result<Feature, GeodataError> {
    let geometry = feature.geometry.as_ref().map(|geometry| {
        let plain = to_geo(geometry)?;
        let moved = rounded(&oriented(projector.geometry(&plain)?));
        Ok::<_, GeodataError>(geojson::Geometry::new(GeometryValue::from(&moved)))
    });
    Ok(Feature { geometry: geometry.transpose()?, bbox: None, ..feature })
}

pub(crate) fn to_geo(geometry: &geojson::Geometry) -> Result<geo::Geometry<f64>, GeodataError> {
    geo::Geometry::try_from(&geometry.value)
        .map_err(|error| GeodataError::Gdal { action: "reading a geometry to write", reason: error.to_string() })
}

/// Exterior rings counter-clockwise, interior ones clockwise (RFC 7946, section 3.1.6).
fn oriented(geometry: geo::Geometry<f64>) -> geo::Geometry<f64> {
    match geometry {
        geo::Geometry::Polygon(polygon) => polygon.orient(Direction::Default).into(),
        geo::Geometry::MultiPolygon(polygons) => polygons.orient(Direction::Default).into(),
        geo::Geometry::GeometryCollection(parts) => {
            geo::Geometry::GeometryCollection(parts.into_iter().map(oriented).collect())
        }
        other => other,
    }
}

fn rounded(geometry: &geo::Geometry<f64>) -> geo::Geometry<f64> {
    geometry.map_coords(|at| geo::coord! { x: rounded_degrees(at.x), y: rounded_degrees(at.y) })
}

pub(crate) fn rounded_degrees(value: f64) -> f64 {
    const UNITS_A_DEGREE: f64 = 1e9;
    (value * UNITS_A_DEGREE).round() / UNITS_A_DEGREE
}
