//! The watershed of a waterway or of a point: by reach and by parcel, and against the drain's schedule.

mod lands;
mod parts;
mod tables;
mod tally;

use std::path::Path;
use std::sync::Arc;

use fallwright_report::layer;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::output::output_folder;
use crate::place::MapPoint;
use crate::run_record::{RunRecord, input_digests, input_files};
use crate::study::work_out;
use lands::lands;
use parts::parts;
use tally::Tally;

/// Whose watershed.
#[derive(Clone, Debug, PartialEq)]
pub enum WatershedAt {
    /// The id of a waterway, a culvert or a pipe.
    Outlet(String),
    Point {
        at: MapPoint,
        /// Metres within which the point may move to the main channel.
        snap_m: Option<f64>,
    },
}

/// The hectares found.
pub struct WatershedReport {
    summary: Value,
    lines: Vec<String>,
}

impl WatershedReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Writes `watershed.geojson`, `watershed_parcels.csv`, `watershed_lands.csv` and `run.json`.
///
/// # Errors
/// Faults of the input; an unknown waterway or a point without elevation; an output folder that cannot be written.
pub fn watershed(
    case: &Path,
    at: &WatershedAt,
    out: &Path,
    settings: &Settings,
    progress: Progress,
) -> Result<WatershedReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    let mut folder = output_folder(out, &input_files(&inputs.case), settings)?;
    let study = work_out(Arc::new(inputs), progress)?;
    let parts = parts(&study, at)?;
    let tally = Tally::of(&study, &parts);
    let lands = lands(&study, &parts, &tally);
    progress("writing the results");
    let records = tables::records(&study, &parts, &tally)?;
    folder.write_geojson("watershed.geojson", &layer(&records), &study.inputs.crs)?;
    folder.write_bytes("watershed_parcels.csv", tables::parcels_csv(&study, &parts, &tally).as_bytes())?;
    folder.write_bytes("watershed_lands.csv", tables::lands_csv(&lands).as_bytes())?;
    let whole = records[0].properties.clone();
    let counts = json!({
        "surface_ha": whole.surface_ha,
        "piped_ha": whole.piped_ha,
        "meets_edge": whole.meets_edge,
        "parts": records.len(),
        "lands": lands.len(),
    });
    let (x, y) = study.setting.frame().centre(parts.at);
    let place = json!({ "outlet": parts.outlet.clone(), "x": x, "y": y, "crs": study.inputs.crs.label() });
    let record =
        RunRecord { command: "watershed", settings: place.clone(), counts: counts.clone(), notes: &study.notes };
    record.write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    let lines = tables::lines(&study, &parts, &records, &lands, out);
    Ok(WatershedReport { summary: json!({ "out": out.display().to_string(), "at": place, "counts": counts }), lines })
}
