//! What a run wrote, read back.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use fallwright::report::{arriving_features, leaving_features, terminal};
use fallwright::{Budget, Error, ErrorKind, Output, Place};
use fallwright_geodata::{ElevationRequest, read_elevation};
use fallwright_units::{Raster, VerticalUnit};
use serde_json::Value;

pub(crate) const BUDGET: Budget = Budget::of(4 << 30);

/// A folder to write into that must be empty.
pub(crate) fn into(folder: &Path) -> Output<'_> {
    Output { folder, overwrite: false }
}

/// A folder to write into that may hold files.
pub(crate) fn over(folder: &Path) -> Output<'_> {
    Output { folder, overwrite: true }
}

/// The lines and the features of a trace.
pub(crate) fn trace(case: &Path, place: &Place) -> Result<(Vec<String>, Value), Error> {
    let study = fallwright::open(case, &BUDGET, &silent)?;
    let leaving = study.leaving(place)?;
    Ok((terminal::trace::leaving(&study, &leaving), leaving_features(&study, &leaving)?))
}

/// The same up the slope.
pub(crate) fn trace_upstream(case: &Path, place: &Place) -> Result<(Vec<String>, Value), Error> {
    let study = fallwright::open(case, &BUDGET, &silent)?;
    let water = study.arriving(place)?;
    Ok((terminal::trace::arriving(&study, &water), arriving_features(&study, &water)?))
}

/// The words of an error that the user can avoid by asking for something else.
pub(crate) fn usage<T>(result: Result<T, Error>) -> String {
    match result {
        Err(error) if error.kind() == ErrorKind::Usage => error.to_string(),
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("it ran"),
    }
}

/// A run that reports no steps.
pub(crate) fn silent(_: &str) {}

pub(crate) fn read_json(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The properties of every feature of a collection, in order.
pub(crate) fn properties(collection: &Value) -> Vec<Value> {
    let features = collection["features"].as_array().expect("a feature collection");
    features.iter().map(|feature| feature["properties"].clone()).collect()
}

/// Name and bytes of every file of a folder.
pub(crate) fn bytes(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    entries.map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap())).collect()
}

/// The rows of a CSV file, each by its columns' names.
pub(crate) fn table(path: &Path) -> Vec<BTreeMap<String, String>> {
    csv::Reader::from_path(path).unwrap().deserialize().map(|row| row.unwrap()).collect()
}

/// Cell values of a written raster; NaN is nodata. Whole numbers up to 2²⁴ are exact.
pub(crate) fn raster(path: &Path) -> Raster<f32> {
    let files = [path.to_path_buf()];
    let vertical_unit = Some(VerticalUnit::Metre);
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes: 1 << 30 };
    read_elevation(&request).unwrap_or_else(|problems| panic!("{}: {problems:?}", path.display())).ground
}

pub(crate) fn text<'a>(properties: &'a Value, key: &str) -> &'a str {
    properties[key].as_str().unwrap_or_else(|| panic!("{key} is no text in {properties}"))
}

pub(crate) fn number(properties: &Value, key: &str) -> f64 {
    properties[key].as_f64().unwrap_or_else(|| panic!("{key} is no number in {properties}"))
}

pub(crate) fn list<'a>(properties: &'a Value, key: &str) -> &'a [Value] {
    properties[key].as_array().unwrap_or_else(|| panic!("{key} is no list in {properties}"))
}

pub(crate) fn texts<'a>(properties: &'a Value, key: &str) -> Vec<&'a str> {
    list(properties, key).iter().map(|item| item.as_str().expect("a text")).collect()
}

/// Sum of one number over a list of records.
pub(crate) fn sum<'a>(records: impl IntoIterator<Item = &'a Value>, key: &str) -> f64 {
    records.into_iter().map(|record| number(record, key)).sum()
}
