//! `petition.json`, `petition.geojson`, the tables of a petition, its workbook and `run.json`.

use std::path::PathBuf;

use fallwright_geodata::OutputFolder;
use fallwright_study::{Petition, Study};
use serde_json::json;

use crate::error::WriteError;
use crate::layer::layer;
use crate::layers::petition::{land_records, petition_record};
use crate::records::petition::PetitionRecord;
use crate::run_record::{RunRecord, digest, input_digests, settings_of};
use crate::tables::petition::{petition_csv, petition_rows, signature_rows, signatures_csv, test_rows, tests_csv};
use crate::tables::workbook::Tables;

/// What stands on the outputs of a petition beside its count.
#[derive(Clone, Debug, Default)]
pub struct PetitionOptions {
    /// Which stage is counted: filing, the on-site meeting, a later meeting.
    pub stage: String,
    /// Files beside the case that the count rests on: the area, lists of signatures.
    pub files: Vec<PathBuf>,
}

/// What was written of a petition.
pub struct PetitionWritten {
    pub record: PetitionRecord,
}

/// # Errors
/// Places without longitude and latitude; inputs that can no longer be read; a folder that cannot be written to.
pub fn write_petition(
    mut folder: OutputFolder,
    study: &Study,
    petition: &Petition,
    options: &PetitionOptions,
) -> Result<PetitionWritten, WriteError> {
    let record = petition_record(study, petition, &options.stage);
    let lands = land_records(study, petition);
    let rows = petition_rows(petition, &lands, &options.stage);
    let tests = test_rows(&record.tests, &options.stage);
    let signatures = signature_rows(study, petition);
    let mut text = serde_json::to_string_pretty(&record).expect("plain values have a JSON form");
    text.push('\n');
    folder.write_bytes("petition.json", text.as_bytes())?;
    folder.write_geojson("petition.geojson", &layer(&lands), &study.inputs.crs)?;
    folder.write_bytes("petition.csv", petition_csv(&rows).as_bytes())?;
    folder.write_bytes("petition_tests.csv", tests_csv(&tests).as_bytes())?;
    folder.write_bytes("signatures.csv", signatures_csv(&signatures).as_bytes())?;
    let workbook = || {
        let mut tables = Tables::new("Petition count, a draft for screening")?;
        tables.add("tests", &tests)?;
        tables.add("lands", &rows)?;
        tables.add("signatures", &signatures)?;
        tables.finish()
    };
    let bytes = workbook().map_err(|error| WriteError::Workbook(error.to_string()))?;
    folder.write_bytes("petition.xlsx", &bytes)?;
    let mut settings = settings_of(study);
    settings["stage"] = json!(options.stage);
    settings["raised_by"] = json!(record.raised_by);
    let mut digests = input_digests(&study.inputs.case)?;
    for file in &options.files {
        let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        digests.push((name, digest(file)?));
    }
    digests.sort();
    let counts = json!({
        "verdict": record.verdict,
        "lands": lands.len(),
        "owners": petition.roll.owners.len(),
        "signed": petition.signatures.standing().len(),
    });
    RunRecord { command: "petition", settings, counts, notes: &study.notes }.write(&mut folder, digests)?;
    folder.commit()?;
    Ok(PetitionWritten { record })
}
