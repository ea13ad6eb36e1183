//! A small sound case that a test spoils before it is run.
//!
//! A valley of 400 m by 400 m, cells of 10 m, falls south along Test Creek in its middle. Two parcels lie on its banks;
//! a road crosses the creek with a culvert; the west parcel is tiled. Plan coordinates are metres east and north of the
//! south-west corner.

use std::fs;
use std::path::PathBuf;

use fallwright::Error;
use fallwright::commands::{OutletsDone, outlets};
use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues};
use fallwright_units::Frame;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::results::{BUDGET, into, silent};

const WEST: f64 = 400_000.0;
const SOUTH: f64 = 4_850_000.0;
const CELL: f64 = 10.0;
const SIZE: usize = 40;

/// What the case files here begin with, after their names.
const BEGINNING: &str = r#"
[terrain]
elevation = ["elevation.tif"]
vertical_unit = "m"

[parcels]
source = "parcels.geojson"
id = "roll"
owner = "owner"
accuracy_m = 2.0

"#;

/// The layers of the small case.
const LAYERS: &str = r#"[[waterways]]
source = "creek.geojson"
id = "id"
class_field = "kind"
members = "parties"

[[culverts]]
source = "culverts.geojson"

[[pipes]]
source = "mains.geojson"

[tiled_areas]
source = "tiled.geojson"
pipe = "main"

[[schedules]]
source = "schedule.csv"
drain = "WC"
parcel = "roll"
hectares = "ha"

[roads]
source = "roads.geojson"

[rules]
profile = "ontario"
abut_tolerance_m = 2.0
"#;

/// A case file with a name, the small case's elevation and parcels, and some layers.
pub(crate) fn case_file(name: &str, layers: &str) -> String {
    format!("name = \"{name}\"\n{BEGINNING}{layers}")
}

pub(crate) struct SmallCase {
    folder: TempDir,
}

impl SmallCase {
    pub(crate) fn sound() -> Self {
        let case = Self { folder: tempfile::tempdir().unwrap() };
        case.write("case.toml", case_file("a small case", LAYERS));
        case.elevation("elevation.tif", (0, 0), (SIZE, SIZE), Some("m"));
        case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), parcel("002", (200.0, 380.0))]);
        case.layer("creek.geojson", &[creek([[200.0, 395.0], [200.0, 5.0]])]);
        case.layer("culverts.geojson", &[culvert([[200.0, 235.0], [200.0, 165.0]])]);
        case.layer(
            "mains.geojson",
            &[line(json!({ "id": "T", "class": "private_tile" }), [[55.0, 105.0], [195.0, 45.0]])],
        );
        case.layer("tiled.geojson", &[polygon(json!({ "main": "T" }), (50.0, 150.0), (100.0, 160.0))]);
        case.layer("roads.geojson", &[polygon(json!({}), (0.0, 400.0), (180.0, 220.0))]);
        case.write("schedule.csv", "roll,ha\n001,6.5\n002,6.5\n");
        case
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(name), bytes).unwrap();
    }

    /// Replaces a part of the case file.
    pub(crate) fn edit(&self, from: &str, to: &str) {
        let text = fs::read_to_string(self.path("case.toml")).unwrap();
        assert!(text.contains(from), "the case file has no {from:?}");
        self.write("case.toml", text.replace(from, to));
    }

    /// Writes a vector layer in the case's own coordinates, which its `crs` member names as older files do.
    pub(crate) fn layer(&self, name: &str, features: &[Value]) {
        let crs = json!({ "type": "name", "properties": { "name": "urn:ogc:def:crs:EPSG::26917" } });
        self.write(name, json!({ "type": "FeatureCollection", "crs": crs, "features": features }).to_string());
    }

    /// Writes a part of the valley: first column and row, and how many there are.
    pub(crate) fn elevation(&self, name: &str, first: (usize, usize), size: (usize, usize), unit: Option<&str>) {
        let corner = (WEST + first.0 as f64 * CELL, SOUTH + (SIZE - first.1) as f64 * CELL);
        self.raster(name, ("EPSG:26917", corner, CELL), first, size, unit, height);
    }

    /// The whole valley, its coordinates in another system.
    pub(crate) fn elevation_in(&self, crs: &str) {
        let corner = (WEST, SOUTH + SIZE as f64 * CELL);
        self.raster("elevation.tif", (crs, corner, CELL), (0, 0), (SIZE, SIZE), Some("m"), height);
    }

    /// The whole valley as if it lay in degrees.
    pub(crate) fn elevation_in_degrees(&self, name: &str, crs: &str) {
        self.raster(name, (crs, (-82.24, 43.80), 1e-4), (0, 0), (SIZE, SIZE), Some("m"), height);
    }

    /// The whole valley with a terrace: all that lies from column 6 to 9 and row 28 to 31 is as high as its lowest cell.
    pub(crate) fn elevation_with_terrace(&self) {
        let height = |col: usize, row: usize| {
            if (6..10).contains(&col) && (28..32).contains(&row) { height(9, 31) } else { height(col, row) }
        };
        self.ground(height);
    }

    /// The whole extent with other ground: heights by column and row, `NaN` for none.
    pub(crate) fn ground(&self, height: impl Fn(usize, usize) -> f32) {
        let corner = (WEST, SOUTH + SIZE as f64 * CELL);
        self.raster("elevation.tif", ("EPSG:26917", corner, CELL), (0, 0), (SIZE, SIZE), Some("m"), height);
    }

    fn raster(
        &self,
        name: &str,
        (crs, corner, cell): (&str, (f64, f64), f64),
        first: (usize, usize),
        size: (usize, usize),
        unit: Option<&str>,
        height: impl Fn(usize, usize) -> f32,
    ) {
        let frame = Frame::new(size.0, size.1, corner, (cell, cell)).unwrap();
        let heights: Vec<f32> =
            (0..frame.len()).map(|cell| height(first.0 + cell % size.0, first.1 + cell / size.0)).collect();
        let meta = RasterMeta { unit, ..RasterMeta::default() };
        let mut folder = OutputFolder::create(self.folder.path(), true).unwrap();
        folder.write_raster(name, &frame, &Crs::from_text(crs).unwrap(), RasterValues::F32(&heights), &meta).unwrap();
        folder.commit().unwrap();
    }

    pub(crate) fn run(&self) -> Result<OutletsDone, Error> {
        outlets(
            &self.path("case.toml"),
            &into(&self.path("out")),
            fallwright::OutletsExtras::default(),
            &BUDGET,
            &silent,
        )
    }
}

/// 1 % along the creek, 2 % towards it.
pub(crate) fn height(col: usize, row: usize) -> f32 {
    let (u, v) = ((col as f64 + 0.5) * CELL, (SIZE as f64 - row as f64 - 0.5) * CELL);
    (100.0 + 0.01 * v + 0.02 * (u - 200.0).abs()) as f32
}

/// A parcel from v = 20 m to v = 380 m.
pub(crate) fn parcel(roll: &str, u: (f64, f64)) -> Value {
    polygon(json!({ "roll": roll, "owner": "Dorothea Inkwell" }), u, (20.0, 380.0))
}

pub(crate) fn creek(ends: [[f64; 2]; 2]) -> Value {
    line(json!({ "id": "WC", "kind": "natural_watercourse", "parties": null }), ends)
}

pub(crate) fn culvert(ends: [[f64; 2]; 2]) -> Value {
    line(json!({ "id": "C", "diameter_mm": 900 }), ends)
}

pub(crate) fn polygon(properties: Value, u: (f64, f64), v: (f64, f64)) -> Value {
    ring(properties, &[[u.0, v.0], [u.1, v.0], [u.1, v.1], [u.0, v.1], [u.0, v.0]])
}

pub(crate) fn ring(properties: Value, corners: &[[f64; 2]]) -> Value {
    let corners: Vec<[f64; 2]> = corners.iter().map(|&at| on_map(at)).collect();
    feature(properties, json!({ "type": "Polygon", "coordinates": [corners] }))
}

pub(crate) fn line<const N: usize>(properties: Value, along: [[f64; 2]; N]) -> Value {
    feature(properties, json!({ "type": "LineString", "coordinates": along.map(on_map).to_vec() }))
}

fn feature(properties: Value, geometry: Value) -> Value {
    Value::from_iter([("type", "Feature".into()), ("properties", properties), ("geometry", geometry)])
}

fn on_map([u, v]: [f64; 2]) -> [f64; 2] {
    [WEST + u, SOUTH + v]
}
