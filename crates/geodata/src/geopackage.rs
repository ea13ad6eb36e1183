//! `GeoPackage` files (OGC 12-128r19).

use std::ffi::CString;
use std::path::Path;

use gdal::spatial_ref::SpatialRef;
use gdal::vector::{Feature, Layer, LayerAccess, LayerOptions, OGRFieldType, OGRwkbGeometryType, ToGdal};
use gdal::{Dataset, DriverManager};
use serde_json::Value;

use crate::library::attempt_strictly;
use crate::write_error::WriteError;
use crate::{Crs, FeatureSource, GeodataError, geojson_file};

/// Written where the format asks for the time of the last change. Our choice.
const FIXED_DATE: &str = "2000-01-01T00:00:00.000Z";

pub(crate) fn write(path: &Path, layers: &[(&str, &dyn FeatureSource)], crs: &Crs) -> Result<(), WriteError> {
    let spatial = crs.flat()?;
    let write = || {
        gdal::config::set_thread_local_config_option("OGR_CURRENT_DATE", FIXED_DATE).map_err(text)?;
        let written = write_layers(path, layers, &spatial);
        gdal::config::clear_thread_local_config_option("OGR_CURRENT_DATE").map_err(text)?;
        written
    };
    attempt_strictly(write).map_err(|reason| GeodataError::Gdal { action: "writing a GeoPackage", reason })?;
    Ok(())
}

#[expect(clippy::needless_pass_by_value, reason = "the form that `map_err` asks for")]
fn text(error: gdal::errors::GdalError) -> String {
    error.to_string()
}

fn write_layers(path: &Path, layers: &[(&str, &dyn FeatureSource)], spatial: &SpatialRef) -> Result<(), String> {
    let driver = DriverManager::get_driver_by_name("GPKG").map_err(text)?;
    let mut dataset = driver.create_vector_only(path).map_err(text)?;
    for (name, features) in layers {
        write_layer(&mut dataset, name, *features, spatial).map_err(|reason| format!("layer {name}: {reason}"))?;
    }
    dataset.close().map_err(text)
}

fn write_layer(
    dataset: &mut Dataset,
    name: &str,
    features: &dyn FeatureSource,
    spatial: &SpatialRef,
) -> Result<(), String> {
    let columns = columns(features);
    let free = |base: &str| {
        let taken = |word: &String| columns.iter().any(|(column, _)| column.eq_ignore_ascii_case(word));
        let numbered = (1..).map(|number| format!("{base}_{number}"));
        std::iter::once(base.to_owned()).chain(numbered).find(|word| !taken(word)).unwrap_or_default()
    };
    let options = [format!("FID={}", free("fid")), format!("GEOMETRY_NAME={}", free("geom"))];
    let kind = geometry_type(features);
    let mut transaction = dataset.start_transaction().map_err(text)?;
    let layer = transaction
        .create_layer(LayerOptions {
            name,
            srs: Some(spatial),
            ty: kind,
            options: Some(&[options[0].as_str(), options[1].as_str()]),
        })
        .map_err(text)?;
    for (column, column_type) in &columns {
        add_column(&layer, column, *column_type)?;
    }
    for (index, feature) in features.each().enumerate() {
        write_feature(&layer, &feature, &columns, kind).map_err(|reason| format!("feature {}: {reason}", index + 1))?;
    }
    transaction.commit().map_err(text)
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum ColumnType {
    Boolean,
    Integer,
    Real,
    Text,
}

/// Columns in the order in which the features name them, each of the narrowest type that holds all its values.
fn columns(features: &dyn FeatureSource) -> Vec<(String, ColumnType)> {
    let mut columns: Vec<(String, Option<ColumnType>)> = Vec::new();
    for feature in features.each() {
        for (name, value) in feature.properties.iter().flatten() {
            let index = columns.iter().position(|(column, _)| column == name).unwrap_or_else(|| {
                columns.push((name.clone(), None));
                columns.len() - 1
            });
            let column = &mut columns[index].1;
            *column = wider(*column, type_of(value));
        }
    }
    columns.into_iter().map(|(name, column)| (name, column.unwrap_or(ColumnType::Text))).collect()
}

fn type_of(value: &Value) -> Option<ColumnType> {
    match value {
        Value::Null => None,
        Value::Bool(_) => Some(ColumnType::Boolean),
        Value::Number(number) if number.is_i64() => Some(ColumnType::Integer),
        Value::Number(_) => Some(ColumnType::Real),
        Value::String(_) | Value::Array(_) | Value::Object(_) => Some(ColumnType::Text),
    }
}

fn wider(a: Option<ColumnType>, b: Option<ColumnType>) -> Option<ColumnType> {
    match (a, b) {
        (a, None) => a,
        (None, b) => b,
        (Some(a), Some(b)) if a == b => Some(a),
        (Some(ColumnType::Integer | ColumnType::Real), Some(ColumnType::Integer | ColumnType::Real)) => {
            Some(ColumnType::Real)
        }
        _ => Some(ColumnType::Text),
    }
}

fn add_column(layer: &Layer, name: &str, column: ColumnType) -> Result<(), String> {
    let field_type = match column {
        ColumnType::Boolean => OGRFieldType::OFTInteger,
        ColumnType::Integer => OGRFieldType::OFTInteger64,
        ColumnType::Real => OGRFieldType::OFTReal,
        ColumnType::Text => OGRFieldType::OFTString,
    };
    let name = CString::new(name).map_err(|error| error.to_string())?;
    // SAFETY: the layer is live; the definition is made, copied by the layer, and destroyed here.
    let done = unsafe {
        let field = gdal_sys::OGR_Fld_Create(name.as_ptr(), field_type);
        if column == ColumnType::Boolean {
            gdal_sys::OGR_Fld_SetSubType(field, gdal_sys::OGRFieldSubType::OFSTBoolean);
        }
        let done = gdal_sys::OGR_L_CreateField(layer.c_layer(), field, 0);
        gdal_sys::OGR_Fld_Destroy(field);
        done
    };
    if done == gdal_sys::OGRErr::OGRERR_NONE { Ok(()) } else { Err(format!("column {name:?} cannot be made")) }
}

fn write_feature(
    layer: &Layer,
    feature: &geojson::Feature,
    columns: &[(String, ColumnType)],
    kind: OGRwkbGeometryType::Type,
) -> Result<(), String> {
    let mut written = Feature::new(layer.defn()).map_err(text)?;
    for (index, (name, column)) in columns.iter().enumerate() {
        let value = feature.properties.as_ref().and_then(|properties| properties.get(name));
        match (value, column) {
            (None | Some(Value::Null), _) => written.set_field_null(index),
            (Some(Value::Bool(value)), ColumnType::Boolean) => written.set_field_integer(index, i32::from(*value)),
            (Some(Value::Number(value)), ColumnType::Integer) => {
                written.set_field_integer64(index, value.as_i64().unwrap_or_default())
            }
            (Some(Value::Number(value)), ColumnType::Real) => {
                written.set_field_double(index, value.as_f64().unwrap_or(f64::NAN))
            }
            (Some(Value::String(value)), _) => written.set_field_string(index, value),
            (Some(value), _) => written.set_field_string(index, &value.to_string()),
        }
        .map_err(text)?;
    }
    if let Some(geometry) = &feature.geometry {
        let plain = geojson_file::to_geo(geometry).map_err(|error| error.to_string())?;
        written.set_geometry(as_type(plain, kind).to_gdal().map_err(text)?).map_err(text)?;
    }
    written.create(layer).map_err(text)
}

/// The one type of a layer's geometries; single and multiple parts together are multiple ones.
fn geometry_type(features: &dyn FeatureSource) -> OGRwkbGeometryType::Type {
    let type_of = |feature: &geojson::Feature| match feature.geometry.as_ref()?.value.type_name() {
        "Point" => Some(OGRwkbGeometryType::wkbPoint),
        "LineString" => Some(OGRwkbGeometryType::wkbLineString),
        "Polygon" => Some(OGRwkbGeometryType::wkbPolygon),
        "MultiPoint" => Some(OGRwkbGeometryType::wkbMultiPoint),
        "MultiLineString" => Some(OGRwkbGeometryType::wkbMultiLineString),
        "MultiPolygon" => Some(OGRwkbGeometryType::wkbMultiPolygon),
        _ => Some(OGRwkbGeometryType::wkbUnknown),
    };
    let mut types = features.each().filter_map(|feature| type_of(&feature));
    let first = types.next().unwrap_or(OGRwkbGeometryType::wkbUnknown);
    types.fold(first, |a, b| match (a, b) {
        (a, b) if a == b => a,
        (a, b) if multiple(a) == multiple(b) => multiple(a),
        _ => OGRwkbGeometryType::wkbUnknown,
    })
}

fn multiple(kind: OGRwkbGeometryType::Type) -> OGRwkbGeometryType::Type {
    match kind {
        OGRwkbGeometryType::wkbPoint => OGRwkbGeometryType::wkbMultiPoint,
        OGRwkbGeometryType::wkbLineString => OGRwkbGeometryType::wkbMultiLineString,
        OGRwkbGeometryType::wkbPolygon => OGRwkbGeometryType::wkbMultiPolygon,
        other => other,
    }
}

fn as_type(geometry: geo::Geometry<f64>, kind: OGRwkbGeometryType::Type) -> geo::Geometry<f64> {
    match (geometry, kind) {
        (geo::Geometry::Point(part), OGRwkbGeometryType::wkbMultiPoint) => geo::MultiPoint(vec![part]).into(),
        (geo::Geometry::LineString(part), OGRwkbGeometryType::wkbMultiLineString) => {
            geo::MultiLineString(vec![part]).into()
        }
        (geo::Geometry::Polygon(part), OGRwkbGeometryType::wkbMultiPolygon) => geo::MultiPolygon(vec![part]).into(),
        (geometry, _) => geometry,
    }
}
