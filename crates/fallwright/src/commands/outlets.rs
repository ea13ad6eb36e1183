//! The main job.

use std::path::Path;

use fallwright_case::{Budget, Inputs, Progress};
use fallwright_report::counts::OutletsCounts;
use fallwright_report::{OutletsExtras, Output, write_outlets};
use fallwright_study::{Standings, Study};

use crate::Error;

pub struct OutletsDone {
    pub study: Study,
    pub standings: Standings,
    pub counts: OutletsCounts,
}

/// Judges every parcel of a case and writes the results to a folder.
///
/// # Errors
/// Faults of the input; a case without parcels; an output folder that cannot be written.
pub fn outlets(
    case_file: &Path,
    output: &Output,
    extras: OutletsExtras,
    budget: &Budget,
    progress: Progress,
) -> Result<OutletsDone, Error> {
    let inputs = Inputs::open(case_file, budget, progress)?;
    inputs.require_parcels()?;
    let folder = output.open(&inputs.case.files())?;
    let study = crate::study(inputs, progress)?;
    let standings = study.standings(progress)?;
    let counts = write_outlets(folder, &study, &standings, extras, progress)?;
    Ok(OutletsDone { study, standings, counts })
}
