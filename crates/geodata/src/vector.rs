//! Vector layers in.

use std::collections::BTreeMap;
use std::ffi::CStr;
use std::path::Path;

use gdal::Dataset;
use gdal::vector::{Feature, Geometry, Layer, LayerAccess, OGRFieldType, OGRwkbGeometryType, geometry_type_to_name};
use serde::Deserialize;

use crate::library::{attempt, open_vector, trapped};
use crate::{Attribute, Crs, Problem, Projector};

/// One layer of a vector file, in the target reference system.
#[derive(Clone, Debug, PartialEq)]
pub struct VectorLayer {
    /// Path as given.
    pub file: String,
    pub layer: String,
    pub fields: Vec<String>,
    /// In the order of the file.
    pub features: Vec<VectorFeature>,
    /// Whether the layer's own system names no place, so that its coordinates were taken to be in the one that was stated.
    pub taken_as_stated: bool,
}

/// One feature as the file holds it; whether its geometry is valid or fits its purpose is for the caller to judge.
#[derive(Clone, Debug, PartialEq)]
pub struct VectorFeature {
    /// Place in the file, from 1.
    pub position: usize,
    /// In the target reference system, without heights; `None` where the file has none or an empty one.
    pub geometry: Option<geo::Geometry<f64>>,
    /// Whether GEOS found the geometry valid as the file has it; also `false` where GDAL was built without GEOS.
    pub known_valid: bool,
    pub attributes: BTreeMap<String, Attribute>,
}

/// Reads one layer of a `GeoPackage`, Shapefile, `GeoJSON` or `FlatGeobuf` file: the named one, or the only one. A layer whose
/// system names no place is in the stated one, if there is any that it may be.
///
/// # Errors
/// A missing or unreadable file, no such layer or several to choose from, a layer without a reference system, features
/// that cannot be read, are curved or solid, or have no place in the target system.
pub fn read_vector(
    path: &Path,
    layer: Option<&str>,
    to: &Crs,
    stated: Option<&Crs>,
) -> Result<VectorLayer, Vec<Problem>> {
    let one = |problem| vec![problem];
    names_no_address(path).map_err(one)?;
    let dataset = open_vector(path).map_err(one)?;
    let mut source = choose(path, &dataset, layer).map_err(one)?;
    let name = source.name();
    let in_layer = |problem: Problem| one(problem.in_layer(&name));
    let given = system(path, &source).map_err(in_layer)?;
    let stated = stated.filter(|stated| given.names_no_place() && given.may_be(stated));
    let projector = projector(path, stated.unwrap_or(&given), to).map_err(in_layer)?;
    let fields: Vec<String> = source.defn().fields().map(|field| field.name()).collect();
    let mut problems = Vec::new();
    let (features, messages) = trapped(|| {
        let mut features = Vec::new();
        for (index, feature) in source.features().enumerate() {
            let position = index + 1;
            match read_feature(&feature, position, &fields, &projector) {
                Ok(feature) => features.push(feature),
                Err((found, expected, hint)) => {
                    let problem = Problem::in_file(path, found, expected, hint);
                    problems.push(problem.in_layer(&name).at_feature(format!("number {position}")));
                }
            }
        }
        features
    });
    let lost = lost_features(&dataset, &source, features.len() + problems.len());
    if let Some(reason) = lost.or_else(|| (!messages.is_empty()).then(|| messages.join("; "))) {
        let problem = Problem::in_file(
            path,
            format!("features that cannot be read after number {} ({reason})", features.len()),
            "a complete layer",
            "the file looks truncated or damaged; fetch it again",
        );
        problems.push(problem.in_layer(&name));
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    Ok(VectorLayer {
        file: path.display().to_string(),
        layer: name,
        fields,
        features,
        taken_as_stated: stated.is_some(),
    })
}

/// A `GeoJSON` file may name its reference system by an address, which GDAL would follow.
fn names_no_address(path: &Path) -> Result<(), Problem> {
    #[derive(Deserialize)]
    struct Head {
        crs: Option<serde_json::Value>,
    }
    let is_json = path.extension().is_none_or(|end| {
        ["gpkg", "shp", "dbf", "shx", "shz", "fgb"].iter().all(|other| !end.eq_ignore_ascii_case(other))
    });
    let Some(file) = is_json.then(|| std::fs::File::open(path).ok()).flatten() else { return Ok(()) };
    let Ok(Head { crs: Some(crs) }) = serde_json::from_reader(std::io::BufReader::new(file)) else { return Ok(()) };
    let name = crs["properties"]["name"].as_str().unwrap_or("urn:");
    let kind = crs["type"].as_str().unwrap_or("name");
    if kind.eq_ignore_ascii_case("name") && (name.starts_with("urn:") || Crs::from_text(name).is_ok()) {
        return Ok(());
    }
    Err(Problem::in_file(
        path,
        format!("a reference system given as {crs}"),
        "longitude and latitude, or a system named by its code",
        "save the file without the member \"crs\", or with a code such as EPSG:26917 in it",
    ))
}

fn choose<'a>(path: &Path, dataset: &'a Dataset, layer: Option<&str>) -> Result<Layer<'a>, Problem> {
    let names = layer_names(dataset);
    let chosen = match layer {
        Some(wanted) => names.iter().find(|name| *name == wanted),
        None => names.first().filter(|_| names.len() == 1),
    };
    if let Some(name) = chosen {
        is_table(path, dataset, name)?;
    }
    let found = match (layer, names.len()) {
        (_, 0) => "no layer".to_owned(),
        (Some(wanted), _) => format!("no layer {wanted}; there are {}", names.join(", ")),
        (None, count) => format!("{count} layers: {}", names.join(", ")),
    };
    chosen.and_then(|name| attempt(|| dataset.layer_by_name(name)).ok()).ok_or_else(|| {
        Problem::in_file(path, found, "one layer to read", "name one of the file's layers as `layer` in the case file")
    })
}

/// The names of a file's layers. Those of a `GeoPackage` come from its table of contents: GDAL looks into every layer that
/// it lists, and a view may be a query without an end.
fn layer_names(dataset: &Dataset) -> Vec<String> {
    if !is_geopackage(dataset) {
        return dataset.layers().map(|layer| layer.name()).collect();
    }
    let query = "SELECT table_name FROM gpkg_contents WHERE data_type IN ('features', 'attributes') ORDER BY rowid";
    rows(dataset, query, |row| row.field_as_string(0).ok().flatten()).into_iter().flatten().collect()
}

/// Refuses a view of a `GeoPackage`.
fn is_table(path: &Path, dataset: &Dataset, layer: &str) -> Result<(), Problem> {
    let name = layer.replace('\'', "''");
    // Views and virtual tables have no page of their own (SQLite, "The Schema Table").
    let query = format!("SELECT 1 FROM sqlite_master WHERE lower(name) = lower('{name}') AND rootpage > 0");
    if !is_geopackage(dataset) || !rows(dataset, &query, |_| ()).is_empty() {
        return Ok(());
    }
    let hint = "store the layer as a table of the file: export what the view shows to a new layer";
    let problem =
        Problem::in_file(path, "a view, which is worked out when it is read", "a layer that is a table", hint);
    Err(problem.in_layer(layer))
}

fn is_geopackage(dataset: &Dataset) -> bool {
    dataset.driver().short_name() == "GPKG"
}

/// What a query on a file's own tables returns; nothing where it cannot be asked.
fn rows<T>(dataset: &Dataset, query: &str, row: impl Fn(&Feature) -> T) -> Vec<T> {
    let asked = attempt(|| dataset.execute_sql(query, None, gdal::vector::sql::Dialect::DEFAULT)).ok().flatten();
    asked.map_or_else(Vec::new, |mut asked| asked.features().map(|found| row(&found)).collect())
}

/// GDAL reads a `FlatGeobuf` file that was cut short without a word; its header says how many features there were.
fn lost_features(dataset: &Dataset, source: &Layer, read: usize) -> Option<String> {
    let is_flat = dataset.driver().short_name() == "FlatGeobuf";
    let announced = is_flat.then(|| source.try_feature_count()).flatten()? as usize;
    (announced != 0 && announced != read).then(|| format!("the header announces {announced} features"))
}

fn system(path: &Path, source: &Layer) -> Result<Crs, Problem> {
    let spatial = attempt(|| source.spatial_ref().ok_or("none")).map_err(|_| {
        Problem::in_file(
            path,
            "no reference system",
            "a layer that says in which reference system it is",
            "write the reference system to the file (for a Shapefile, the .prj file beside it)",
        )
    })?;
    Crs::from_spatial_ref(&spatial).map_err(|error| {
        Problem::in_file(path, error.to_string(), "a known reference system", "correct the file's reference system")
    })
}

fn projector(path: &Path, from: &Crs, to: &Crs) -> Result<Projector, Problem> {
    let hint = if from.names_no_place() {
        "write to the file which reference system it is; `crs` in the case file says so only for one of the same projection"
    } else {
        "correct the file's reference system, or install the datum grids it needs"
    };
    Projector::new(from, to).map_err(|error| {
        let expected = format!("a reference system that can be taken to {}", to.label());
        Problem::in_file(path, error.to_string(), expected, hint)
    })
}

type Fault = (String, &'static str, &'static str);

fn read_feature(
    feature: &Feature,
    position: usize,
    fields: &[String],
    projector: &Projector,
) -> Result<VectorFeature, Fault> {
    // SAFETY: the feature is live; the pointer is only compared with null.
    let has_geometry = !unsafe { gdal_sys::OGR_F_GetGeometryRef(feature.c_feature()) }.is_null();
    let source = feature.geometry().filter(|geometry| has_geometry && !geometry.is_empty());
    // GEOS says why a geometry is not valid as if reading it had failed.
    let known_valid = source.is_some_and(|geometry| trapped(|| geometry.is_valid()).0);
    let geometry = match source {
        None => None,
        Some(geometry) => {
            let geometry = plain(geometry).map_err(|kind| {
                (
                    format!("a geometry of type {kind}"),
                    "points, lines or polygons with straight sides",
                    "convert it to straight sides first",
                )
            })?;
            let moved = projector.geometry(&geometry).map_err(|error| {
                (error.to_string(), "coordinates in the layer's reference system", "correct the coordinates")
            })?;
            Some(moved)
        }
    };
    let attributes = fields.iter().enumerate().map(|(index, name)| (name.clone(), attribute(feature, index))).collect();
    Ok(VectorFeature { position, geometry, known_valid, attributes })
}

/// The geometry in `geo`'s types, heights and measures left out.
///
/// # Errors
/// The name of a type that has curved or solid parts.
fn plain(geometry: &Geometry) -> Result<geo::Geometry<f64>, String> {
    let kind = gdal::vector::geometry_type_flatten(geometry.geometry_type());
    let parts = || (0..geometry.geometry_count()).map(|index| geometry.get_geometry(index));
    Ok(match kind {
        OGRwkbGeometryType::wkbPoint => geo::Point(coords(geometry)[0]).into(),
        OGRwkbGeometryType::wkbLineString => geo::LineString(coords(geometry)).into(),
        OGRwkbGeometryType::wkbPolygon => polygon(geometry).into(),
        OGRwkbGeometryType::wkbMultiPoint => {
            geo::MultiPoint(parts().flat_map(|part| coords(&part)).map(geo::Point).collect()).into()
        }
        OGRwkbGeometryType::wkbMultiLineString => {
            geo::MultiLineString(parts().map(|part| geo::LineString(coords(&part))).collect()).into()
        }
        OGRwkbGeometryType::wkbMultiPolygon => geo::MultiPolygon(parts().map(|part| polygon(&part)).collect()).into(),
        OGRwkbGeometryType::wkbGeometryCollection => {
            let parts: Result<Vec<_>, String> =
                parts().filter(|part| !part.is_empty()).map(|part| plain(&part)).collect();
            geo::Geometry::GeometryCollection(geo::GeometryCollection(parts?))
        }
        other => return Err(geometry_type_to_name(other)),
    })
}

fn coords(geometry: &Geometry) -> Vec<geo::Coord<f64>> {
    let mut points = Vec::new();
    geometry.get_points(&mut points);
    points.into_iter().map(|(x, y, _)| geo::Coord { x, y }).collect()
}

fn polygon(geometry: &Geometry) -> geo::Polygon<f64> {
    let mut rings = (0..geometry.geometry_count()).map(|index| geo::LineString(coords(&geometry.get_geometry(index))));
    let exterior = rings.next().unwrap_or_else(|| geo::LineString(Vec::new()));
    geo::Polygon::new(exterior, rings.collect())
}

fn attribute(feature: &Feature, index: usize) -> Attribute {
    let index = index as i32;
    // SAFETY: the feature is live, `index` is one of its layer's fields, and every string or array that GDAL hands out
    // is copied before the next call on the feature.
    unsafe {
        let handle = feature.c_feature();
        if gdal_sys::OGR_F_IsFieldSetAndNotNull(handle, index) == 0 {
            return Attribute::Null;
        }
        match gdal_sys::OGR_Fld_GetType(gdal_sys::OGR_F_GetFieldDefnRef(handle, index)) {
            OGRFieldType::OFTInteger | OGRFieldType::OFTInteger64 => {
                Attribute::Integer(gdal_sys::OGR_F_GetFieldAsInteger64(handle, index))
            }
            OGRFieldType::OFTReal => Attribute::Real(gdal_sys::OGR_F_GetFieldAsDouble(handle, index)),
            OGRFieldType::OFTStringList => {
                let items = gdal_sys::OGR_F_GetFieldAsStringList(handle, index);
                let count = gdal_sys::CSLCount(items.cast());
                let item = |at: i32| CStr::from_ptr(*items.add(at as usize)).to_string_lossy().into_owned();
                Attribute::List((0..count).map(item).collect())
            }
            OGRFieldType::OFTIntegerList | OGRFieldType::OFTInteger64List | OGRFieldType::OFTRealList => {
                Attribute::List(numbers(&as_text(handle, index)))
            }
            OGRFieldType::OFTDate | OGRFieldType::OFTDateTime => Attribute::Text(date(&as_text(handle, index))),
            _ => Attribute::Text(as_text(handle, index)),
        }
    }
}

/// # Safety
/// A live feature and the index of one of its fields.
unsafe fn as_text(feature: gdal_sys::OGRFeatureH, index: i32) -> String {
    // SAFETY: GDAL returns a C string that stays until the next call on the feature.
    unsafe { CStr::from_ptr(gdal_sys::OGR_F_GetFieldAsString(feature, index)) }.to_string_lossy().into_owned()
}

/// A date as ISO 8601 has it; some formats can only write a date as that day's midnight.
fn date(text: &str) -> String {
    text.replace('/', "-").trim_end_matches(" 00:00:00").to_owned()
}

/// The items of a list of numbers as GDAL writes it: `(3:1,2,3)`.
fn numbers(text: &str) -> Vec<String> {
    let items = text.split_once(':').map_or("", |(_, items)| items.trim_end_matches(')'));
    items.split(',').map(str::trim).filter(|item| !item.is_empty()).map(str::to_owned).collect()
}

#[cfg(test)]
#[path = "vector_tests.rs"]
mod tests;
