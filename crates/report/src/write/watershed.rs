//! `watershed.geojson`, `watershed_parcels.csv`, `watershed_lands.csv` and `run.json`.

use fallwright_geodata::OutputFolder;
use fallwright_study::{Study, Watershed};
use serde_json::{Value, json};

use crate::counts::WatershedCounts;
use crate::error::WriteError;
use crate::layer::{Record, layer};
use crate::layers::watershed::records;
use crate::records::watershed::WatershedPartProperties;
use crate::run_record::{RunRecord, input_digests};
use crate::tables::watershed_lands::lands_csv;
use crate::tables::watershed_parcels::parcels_csv;

/// What was written of a watershed.
pub struct WatershedWritten {
    pub records: Vec<Record<WatershedPartProperties>>,
    pub counts: WatershedCounts,
    /// The outlet or point.
    pub place: Value,
}

/// # Errors
/// Places without longitude and latitude; inputs that can no longer be read; a folder that cannot be written to.
pub fn write_watershed(
    mut folder: OutputFolder,
    study: &Study,
    watershed: &Watershed,
) -> Result<WatershedWritten, WriteError> {
    let records = records(study, watershed)?;
    folder.write_geojson("watershed.geojson", &layer(&records), &study.inputs.crs)?;
    folder.write_bytes("watershed_parcels.csv", parcels_csv(study, watershed).as_bytes())?;
    folder.write_bytes("watershed_lands.csv", lands_csv(study, &watershed.lands).as_bytes())?;
    let whole = &records[0].properties;
    let counts = WatershedCounts {
        surface_ha: whole.surface_ha,
        piped_ha: whole.piped_ha,
        meets_edge: whole.meets_edge,
        parts: records.len(),
        lands: watershed.lands.len(),
    };
    let (x, y) = study.setting.frame().centre(watershed.parts.at);
    let place = json!({ "outlet": watershed.parts.outlet, "x": x, "y": y, "crs": study.inputs.crs.label() });
    let record = RunRecord { command: "watershed", settings: &place, counts: &counts, notes: &study.notes };
    record.write(&mut folder, input_digests(&study.inputs.case)?)?;
    folder.commit()?;
    Ok(WatershedWritten { records, counts, place })
}
