//! Is the outlet big enough, all the way down.

use std::path::Path;

use fallwright_case::{Budget, Inputs, Progress};
use fallwright_report::counts::CapacityCounts;
use fallwright_report::{Output, write_capacity};
use fallwright_study::{AddedLand, Capacity, Study, findings};

use crate::Error;

pub struct CapacityDone {
    pub study: Study,
    pub capacity: Capacity,
    pub counts: CapacityCounts,
}

/// Checks the capacity of a case's works, as if some land more were drained by pipe.
///
/// # Errors
/// Faults of the input; a case without parcels; added land of a parcel that is not there; an output folder that cannot be
/// written.
pub fn capacity(
    case_file: &Path,
    output: &Output,
    added: &[AddedLand],
    budget: &Budget,
    progress: Progress,
) -> Result<CapacityDone, Error> {
    let inputs = Inputs::open(case_file, budget, progress)?;
    inputs.require_parcels()?;
    let folder = output.open(&inputs.case.files())?;
    let study = crate::study(inputs, progress)?;
    progress("checking every link of the cascade");
    let capacity = study.capacity(added)?;
    progress("writing the results");
    let counts = write_capacity(folder, &study, (&capacity, added), &findings(&study))?;
    Ok(CapacityDone { study, capacity, counts })
}
