//! `petition.json`, `petition.geojson`, `area.geojson` of an area proposed, the tables of a petition, its workbook, its sheet and `run.json`.

use std::path::PathBuf;

use fallwright_geodata::OutputFolder;
use fallwright_study::{Petition, Standings, Study, SuggestedArea};
use serde_json::json;

use crate::case_records::CaseRecords;
use crate::drawing::{Paper, paged, sheet_svg};
use crate::error::WriteError;
use crate::layer::{Record, layer};
use crate::layers::petition::{land_records, petition_record, suggested_records};
use crate::records::petition::{PetitionLandProperties, PetitionRecord, StageRecord};
use crate::relief::Relief;
use crate::run_record::{RunRecord, digest, input_digests, settings_of};
use crate::sheets::furniture::furniture;
use crate::sheets::maps::Maps;
use crate::sheets::pdfs::{Pdfs, failed};
use crate::sheets::petition::PetitionSheet;
use crate::tables::petition::{petition_csv, petition_rows, signature_rows, signatures_csv, test_rows, tests_csv};
use crate::tables::workbook::Tables;
use crate::words::PetitionWords;

/// What stands on the outputs of a petition beside its count.
#[derive(Clone, Debug, Default)]
pub struct PetitionOptions {
    /// Which stage is counted: filing, the on-site meeting, a later meeting.
    pub stage: String,
    /// Counts of earlier stages.
    pub earlier: Vec<StageRecord>,
    /// Files beside the case that the count rests on: the area, lists of signatures, earlier counts.
    pub files: Vec<PathBuf>,
    /// The day that stands on the sheet, as `2026-11-25`.
    pub run_date: String,
    pub paper: Paper,
    /// Font files for characters that the sheet's own font lacks.
    pub fonts: Vec<PathBuf>,
}

/// What was written of a petition.
pub struct PetitionWritten {
    pub record: PetitionRecord,
}

/// # Errors
/// Places without longitude and latitude; characters that no font has; inputs that can no longer be read; a folder that cannot
/// be written to.
pub fn write_petition(
    mut folder: OutputFolder,
    study: &Study,
    (petition, standings): (&Petition, &Standings),
    suggested: Option<&SuggestedArea>,
    options: &PetitionOptions,
) -> Result<PetitionWritten, WriteError> {
    let record = petition_record(study, (petition, suggested), &options.stage, &options.earlier);
    let lands = land_records(study, petition);
    let mut text = serde_json::to_string_pretty(&record).expect("plain values have a JSON form");
    text.push('\n');
    folder.write_bytes("petition.json", text.as_bytes())?;
    folder.write_geojson("petition.geojson", &layer(&lands), &study.inputs.crs)?;
    if let Some(area) = suggested {
        folder.write_geojson("area.geojson", &layer(&suggested_records(study, area)), &study.inputs.crs)?;
    }
    write_tables(&mut folder, study, petition, (&record, &lands))?;
    let mut digests = input_digests(&study.inputs.case)?;
    for file in options.files.iter().chain(&options.fonts) {
        let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        digests.push((name, digest(file)?));
    }
    digests.sort();
    let words = PetitionWords::of(study, petition, &record);
    let results = CaseRecords::of(study, standings)?;
    let maps = Maps::of(&results, Relief::of(&study.setting.ground));
    let sheet = PetitionSheet { record: &record, lands: &lands, area: &petition.area, words: &words };
    let mut sheets = paged(sheet.sheet(&maps, &furniture(study, &options.run_date, &digests), options.paper));
    let pages = sheets.len();
    for (page, sheet) in (1..).zip(&mut sheets) {
        sheet.page = (page, pages);
    }
    write_sheet(&mut folder, &sheets.iter().map(sheet_svg).collect::<Vec<_>>(), &words.verdict, options)?;
    let mut settings = settings_of(study);
    settings["stage"] = json!(options.stage);
    settings["raised_by"] = json!(record.raised_by);
    settings["run_date"] = json!(options.run_date);
    settings["paper"] = json!(options.paper.name());
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

fn write_tables(
    folder: &mut OutputFolder,
    study: &Study,
    petition: &Petition,
    (record, lands): (&PetitionRecord, &[Record<PetitionLandProperties>]),
) -> Result<(), WriteError> {
    let rows = petition_rows(petition, lands, &record.stage);
    let tests = test_rows(record);
    let signatures = signature_rows(study, petition);
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
    Ok(())
}

/// `petition.svg`, `petition_page_2.svg`, ..., and all of them as `petition.pdf`.
fn write_sheet(
    folder: &mut OutputFolder,
    pages: &[String],
    title: &str,
    options: &PetitionOptions,
) -> Result<(), WriteError> {
    const PDF: &str = "petition.pdf";
    for (number, page) in (1..).zip(pages) {
        let name = if number == 1 { "petition.svg".to_owned() } else { format!("petition_page_{number}.svg") };
        folder.write_bytes(&name, page.as_bytes())?;
    }
    let mut pdfs = Pdfs::new(&options.fonts)?;
    let mut pdf = pdfs.start();
    pdf.add(pages).map_err(|error| failed(PDF, &error))?;
    if let Some(bytes) = pdfs.finish(PDF, title, &options.run_date, pdf)? {
        folder.write_bytes(PDF, &bytes)?;
    }
    pdfs.refuse_missing()
}
