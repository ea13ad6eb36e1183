//! `capacity.geojson`, `capacity.csv`, `fall.csv`, `parcels.geojson` and `run.json`.

use fallwright_geodata::{OutputFolder, Streamed};
use fallwright_law::Finding;
use fallwright_study::{AddedLand, Capacity, Study};
use fallwright_units::ParcelIx;
use serde_json::{Value, json};
use typed_index_collections::TiSlice;

use crate::counts::CapacityCounts;
use crate::error::WriteError;
use crate::layer::{feature, layer};
use crate::layers::capacity::records;
use crate::layers::parcels::ParcelLayer;
use crate::layers::paths::PipedPaths;
use crate::run_record::{RunRecord, input_digests, settings_of};
use crate::tables::capacity_csv;
use crate::tables::fall::fall_csv;
use crate::words::defaults_words;

/// # Errors
/// Places without longitude and latitude; inputs that can no longer be read; a folder that cannot be written to.
pub fn write_capacity(
    mut folder: OutputFolder,
    study: &Study,
    (capacity, added): (&Capacity, &[AddedLand]),
    findings: &TiSlice<ParcelIx, Finding>,
) -> Result<CapacityCounts, WriteError> {
    let records = records(study, &capacity.check);
    folder.write_geojson("capacity.geojson", &layer(&records), &study.inputs.crs)?;
    folder.write_bytes("capacity.csv", capacity_csv(&records).as_bytes())?;
    folder.write_bytes("fall.csv", fall_csv(study, capacity).as_bytes())?;
    let parcels = ParcelLayer::find(study, findings, &PipedPaths::find(study))?;
    let described = || parcels.records(study, findings, Some(&capacity.check));
    let features = Streamed::new(|| described().map(|record| feature(&record)));
    folder.write_geojson("parcels.geojson", &features, &study.inputs.crs)?;
    let counts = CapacityCounts::of(&capacity.check);
    let given: Vec<Value> =
        added.iter().map(|land| json!([land.parcel, land.drainage_coefficient.millimetres_per_day()])).collect();
    let mut settings = settings_of(study);
    settings["added_mm_per_day"] = json!(given);
    settings["capacity_defaults_used"] = json!(defaults_words(&capacity.defaults_used));
    RunRecord { command: "capacity", settings, counts: &counts, notes: &study.notes }
        .write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    Ok(counts)
}
