//! An invented case to measure the main job on: the terrain of the benches, square parcels, a few drains and roads.

use std::fmt::Write;
use std::path::Path;

use anyhow::Result;
use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues};
use fallwright_units::Frame;

use crate::terrain::{DITCH_EVERY, terrain};

const CRS: &str = "EPSG:26917";
/// The terrain's north-west corner.
const CORNER: (f64, f64) = (430_000.0, 4_850_000.0);
/// Rows of parcels between roads, and the width of a road, cells.
const ROWS_BETWEEN_ROADS: usize = 10;
const ROAD: usize = 16;
/// Ditches of the terrain between two that are mapped as drains.
const DITCHES_TO_A_DRAIN: usize = 6;
/// Parcels of one owner.
const HOLDING: usize = 3;

const CASE: &str = r#"name = "Squares to measure on (invented)"

[terrain]
elevation = ["elevation.tif"]
vertical_unit = "m"
rmse_z_m = 0.1

[parcels]
source = "parcels.geojson"
id = "id"
owner = "owner"

[[waterways]]
source = "drains.geojson"
id = "id"
class = "municipal_drain"

[roads]
source = "roads.geojson"
"#;

/// Writes a case with about `parcels` parcels on a terrain of `side` by `side` cells.
pub(crate) fn write(folder: &Path, side: usize, parcels: usize) -> Result<()> {
    let heights = terrain(side);
    let cell_m = (heights.frame.cell_width(), heights.frame.cell_height());
    let frame = Frame::new(side, side, CORNER, cell_m)?;
    let mut out = OutputFolder::create(folder, true)?;
    let values = RasterValues::F32(&heights.values);
    out.write_raster("elevation.tif", &frame, &Crs::from_text(CRS)?, values, &RasterMeta::default())?;
    let squares = Squares { frame, per_side: parcels.isqrt().max(1) };
    out.write_bytes("parcels.geojson", collection(&squares.parcels()).as_bytes())?;
    out.write_bytes("roads.geojson", collection(&squares.roads()).as_bytes())?;
    out.write_bytes("drains.geojson", collection(&drains(&frame)).as_bytes())?;
    out.write_bytes("case.toml", CASE.as_bytes())?;
    Ok(out.commit()?)
}

/// Parcels in rows, with a road after every few rows.
struct Squares {
    frame: Frame,
    per_side: usize,
}

impl Squares {
    fn parcels(&self) -> Vec<String> {
        let number = |col: usize, row: usize| row * self.per_side + col;
        let parcel = |(col, row): (usize, usize)| {
            let properties =
                format!(r#"{{"id":"{:06}","owner":"Owner {}"}}"#, number(col, row), number(col, row) / HOLDING);
            let south = self.line(row + 1) - if has_road(row) { ROAD } else { 0 };
            feature(&properties, &polygon(&self.frame, (self.line(col), self.line(col + 1)), (self.line(row), south)))
        };
        let rows = 0..self.per_side;
        rows.flat_map(|row| (0..self.per_side).map(move |col| (col, row))).map(parcel).collect()
    }

    fn roads(&self) -> Vec<String> {
        let road = |row: usize| {
            let south = self.line(row + 1);
            feature("{}", &polygon(&self.frame, (0, self.frame.cols()), (south - ROAD, south)))
        };
        (0..self.per_side).filter(|&row| has_road(row)).map(road).collect()
    }

    /// The column or row of cells at which a row or column of parcels begins.
    fn line(&self, position: usize) -> usize {
        position * self.frame.cols() / self.per_side
    }
}

fn has_road(row: usize) -> bool {
    row % ROWS_BETWEEN_ROADS == ROWS_BETWEEN_ROADS - 1
}

/// Some of the terrain's ditches from north to south.
fn drains(frame: &Frame) -> Vec<String> {
    let columns = (DITCH_EVERY..frame.cols()).step_by(DITCH_EVERY * DITCHES_TO_A_DRAIN);
    let drain = |(number, col): (usize, usize)| {
        let x = frame.centre_x(col);
        let (north, south) = (frame.centre_y(0), frame.centre_y(frame.rows() - 1));
        let geometry = format!(r#"{{"type":"LineString","coordinates":[[{x},{north}],[{x},{south}]]}}"#);
        feature(&format!(r#"{{"id":"D-{number:02}"}}"#), &geometry)
    };
    (1..).zip(columns).map(drain).collect()
}

fn polygon(frame: &Frame, (from_col, to_col): (usize, usize), (from_row, to_row): (usize, usize)) -> String {
    let x = |col: usize| frame.west() + col as f64 * frame.cell_width();
    let y = |row: usize| frame.north() - row as f64 * frame.cell_height();
    let (west, east, north, south) = (x(from_col), x(to_col), y(from_row), y(to_row));
    format!(
        r#"{{"type":"Polygon","coordinates":[[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]}}"#
    )
}

fn feature(properties: &str, geometry: &str) -> String {
    format!(r#"{{"type":"Feature","properties":{properties},"geometry":{geometry}}}"#)
}

/// Coordinates are those of the case's reference system, which `GeoJSON` before RFC 7946 names in this way.
fn collection(features: &[String]) -> String {
    let code = CRS.trim_start_matches("EPSG:");
    let mut text = format!(
        r#"{{"type":"FeatureCollection","crs":{{"type":"name","properties":{{"name":"urn:ogc:def:crs:EPSG::{code}"}}}},"features":["#
    );
    for (position, feature) in features.iter().enumerate() {
        let _ = write!(text, "{}{feature}", if position == 0 { "" } else { "," });
    }
    text.push_str("]}\n");
    text
}
