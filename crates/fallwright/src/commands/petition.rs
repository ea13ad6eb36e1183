//! Does a petition pass.

use std::path::{Path, PathBuf};

use fallwright_case::{Budget, Inputs, Problem, Progress, Signature};
use fallwright_law::petition::RaisedBy;
use fallwright_report::{Output, Paper, PetitionOptions, PetitionWritten, StageRecord, read_stage, write_petition};
use fallwright_study::{Petition, PetitionQuestion, Place, Study};

use crate::Error;

/// What is asked, as a user gives it: files, and ids with commas between.
#[derive(Clone, Debug)]
pub struct PetitionAsked {
    /// The area requiring drainage.
    pub area: PathBuf,
    /// Signatures: a CSV file, or ids.
    pub signed: Option<String>,
    /// Signatures added since.
    pub add: Option<String>,
    /// Signatures withdrawn since.
    pub withdraw: Option<String>,
    pub raised_by: RaisedBy,
    pub outlet: Option<Place>,
    /// Which stage is counted.
    pub stage: String,
    /// Files `petition.json` of earlier stages.
    pub earlier: Vec<PathBuf>,
    /// The day that stands on the sheet, as `2026-11-25`.
    pub run_date: String,
    pub paper: Paper,
    /// Font files for characters that the sheet's own font lacks.
    pub fonts: Vec<PathBuf>,
}

pub struct PetitionDone {
    pub study: Study,
    pub petition: Petition,
    pub written: PetitionWritten,
}

/// Counts a petition or a remonstrance over an area and writes the tally.
///
/// # Errors
/// Faults of the input, all at once; an area without parcels or roads; an unknown outlet; an output folder that cannot be written.
pub fn petition(
    case_file: &Path,
    asked: &PetitionAsked,
    output: &Output,
    budget: &Budget,
    progress: Progress,
) -> Result<PetitionDone, Error> {
    let inputs = Inputs::open(case_file, budget, progress)?;
    inputs.require_parcels()?;
    let lists = [&asked.signed, &asked.add, &asked.withdraw].into_iter().flatten().map(PathBuf::from);
    let lists = lists.filter(|path| path.is_file());
    let files: Vec<PathBuf> =
        std::iter::once(asked.area.clone()).chain(lists).chain(asked.earlier.iter().cloned()).collect();
    let (question, earlier) = question(&inputs, asked)?;
    let beside = files.iter().chain(&asked.fonts).map(PathBuf::as_path);
    let folder = output.open(&inputs.case.files().into_iter().chain(beside).collect::<Vec<_>>())?;
    let study = crate::study(inputs, progress)?;
    progress("counting the petition");
    let petition = study.petition(&question)?;
    let standings = study.standings(progress)?;
    progress("writing the results");
    let options = PetitionOptions {
        stage: asked.stage.clone(),
        earlier,
        files,
        run_date: asked.run_date.clone(),
        paper: asked.paper,
        fonts: asked.fonts.clone(),
    };
    let written = write_petition(folder, &study, (&petition, &standings), &options)?;
    Ok(PetitionDone { study, petition, written })
}

/// # Errors
/// Every fault of the area, of the lists and of the earlier counts.
fn question(inputs: &Inputs, asked: &PetitionAsked) -> Result<(PetitionQuestion, Vec<StageRecord>), Vec<Problem>> {
    let mut problems = Vec::new();
    let area = inputs.read_area(&asked.area).map_err(|found| problems.extend(found)).ok();
    let mut read = |option: &str, text: &Option<String>| -> Vec<Signature> {
        let signatures = text.as_ref().map(|text| inputs.read_signatures(option, text)).transpose();
        signatures.map_err(|found| problems.extend(found)).ok().flatten().unwrap_or_default()
    };
    let signed = read("--signed", &asked.signed);
    let added = read("--add", &asked.add);
    let withdrawn = read("--withdraw", &asked.withdraw);
    let mut earlier = Vec::new();
    for file in &asked.earlier {
        match read_stage(file) {
            Ok(stage) => earlier.push(stage),
            Err(problem) => problems.push(*problem),
        }
    }
    let Some(area) = area.filter(|_| problems.is_empty()) else { return Err(problems) };
    let (raised_by, outlet) = (asked.raised_by, asked.outlet.clone());
    let area_file = asked.area.display().to_string();
    let question = PetitionQuestion { area, area_file, signatures: signed, added, withdrawn, raised_by, outlet };
    Ok((question, earlier))
}
