//! Does a petition pass.

use std::path::{Path, PathBuf};

use fallwright_case::{Budget, Inputs, Problem, Progress, Signature};
use fallwright_law::petition::RaisedBy;
use fallwright_report::{Output, PetitionOptions, PetitionWritten, write_petition};
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
    let files: Vec<PathBuf> = std::iter::once(asked.area.clone()).chain(lists).collect();
    let question = question(&inputs, asked)?;
    let beside = files.iter().map(PathBuf::as_path);
    let folder = output.open(&inputs.case.files().into_iter().chain(beside).collect::<Vec<_>>())?;
    let study = crate::study(inputs, progress)?;
    progress("counting the petition");
    let petition = study.petition(&question)?;
    progress("writing the results");
    let options = PetitionOptions { stage: asked.stage.clone(), files };
    let written = write_petition(folder, &study, &petition, &options)?;
    Ok(PetitionDone { study, petition, written })
}

/// # Errors
/// Every fault of the area and of the lists.
fn question(inputs: &Inputs, asked: &PetitionAsked) -> Result<PetitionQuestion, Vec<Problem>> {
    let mut problems = Vec::new();
    let area = inputs.read_area(&asked.area).map_err(|found| problems.extend(found)).ok();
    let mut read = |option: &str, text: &Option<String>| -> Vec<Signature> {
        let signatures = text.as_ref().map(|text| inputs.read_signatures(option, text)).transpose();
        signatures.map_err(|found| problems.extend(found)).ok().flatten().unwrap_or_default()
    };
    let signed = read("--signed", &asked.signed);
    let added = read("--add", &asked.add);
    let withdrawn = read("--withdraw", &asked.withdraw);
    match area {
        Some(area) if problems.is_empty() => Ok(PetitionQuestion {
            area,
            signatures: [signed, added].concat(),
            withdrawn,
            raised_by: asked.raised_by,
            outlet: asked.outlet.clone(),
        }),
        _ => Err(problems),
    }
}
