//! The watershed of an outlet or a point.

use std::path::Path;

use fallwright_case::{Budget, Inputs, Progress};
use fallwright_report::{Output, WatershedWritten, write_watershed};
use fallwright_study::{Place, Study, Watershed};

use crate::Error;

pub struct WatershedDone {
    pub study: Study,
    pub watershed: Watershed,
    pub written: WatershedWritten,
}

/// Writes the watershed of an outlet or a point; a point may move to the main channel within `snap_m` metres.
///
/// # Errors
/// Faults of the input; an unknown outlet or a point without elevation; an output folder that cannot be written.
pub fn watershed(
    case_file: &Path,
    (place, snap_m): (&Place, f64),
    output: &Output,
    budget: &Budget,
    progress: Progress,
) -> Result<WatershedDone, Error> {
    let inputs = Inputs::open(case_file, budget, progress)?;
    let folder = output.open(&inputs.case.files())?;
    let study = crate::study(inputs, progress)?;
    let watershed = study.watershed(place, snap_m)?;
    progress("writing the results");
    let written = write_watershed(folder, &study, &watershed)?;
    Ok(WatershedDone { study, watershed, written })
}
