//! Does a petition pass.

use std::path::{Path, PathBuf};

use fallwright_case::{Budget, Inputs, Problem, Progress, Signature};
use fallwright_law::petition::RaisedBy;
use fallwright_report::{Output, Paper, PetitionOptions, PetitionWritten, StageRecord, read_stage, write_petition};
use fallwright_study::{Petition, PetitionQuestion, Place, Study};
use geo::MultiPolygon;

use crate::Error;

/// What is asked, as a user gives it: files, and ids with commas between.
#[derive(Clone, Debug)]
pub struct PetitionAsked {
    pub area: AreaAsked,
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

/// The area requiring drainage.
#[derive(Clone, Debug)]
pub enum AreaAsked {
    File(PathBuf),
    /// To be proposed from the terrain for these parcels.
    Suggested(Vec<String>),
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
    let area = match &asked.area {
        AreaAsked::File(file) => Some(file.clone()),
        AreaAsked::Suggested(_) => None,
    };
    let files: Vec<PathBuf> = area.into_iter().chain(lists).chain(asked.earlier.iter().cloned()).collect();
    let (mut question, earlier) = question(&inputs, asked)?;
    let beside = files.iter().chain(&asked.fonts).map(PathBuf::as_path);
    let folder = output.open(&inputs.case.files().into_iter().chain(beside).collect::<Vec<_>>())?;
    let study = crate::study(inputs, progress)?;
    let parcels = match &asked.area {
        AreaAsked::File(_) => Vec::new(),
        AreaAsked::Suggested(ids) => ids.iter().map(|id| study.parcel(id)).collect::<Result<Vec<_>, _>>()?,
    };
    let standings = study.standings(progress)?;
    let suggested = if parcels.is_empty() { None } else { Some(study.suggested_area(&parcels, &standings.findings)?) };
    if let Some(suggested) = &suggested {
        question.area = suggested.area.clone();
    }
    progress("counting the petition");
    let petition = study.petition(&question, &standings)?;
    progress("writing the results");
    let options = PetitionOptions {
        stage: asked.stage.clone(),
        earlier,
        files,
        run_date: asked.run_date.clone(),
        paper: asked.paper,
        fonts: asked.fonts.clone(),
    };
    let written = write_petition(folder, &study, (&petition, &standings), suggested.as_ref(), &options)?;
    Ok(PetitionDone { study, petition, written })
}

/// # Errors
/// Every fault of the area, of the lists and of the earlier counts.
fn question(inputs: &Inputs, asked: &PetitionAsked) -> Result<(PetitionQuestion, Vec<StageRecord>), Vec<Problem>> {
    let mut problems = Vec::new();
    let (area, area_file) = match &asked.area {
        AreaAsked::File(file) => {
            (inputs.read_area(file).map_err(|found| problems.extend(found)).ok(), file.display().to_string())
        }
        AreaAsked::Suggested(_) => (Some(MultiPolygon(Vec::new())), "--suggest".to_owned()),
    };
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
    let question = PetitionQuestion { area, area_file, signatures: signed, added, withdrawn, raised_by, outlet };
    Ok((question, earlier))
}
