//! Reads everything, and estimates what a run would take.

use std::path::Path;

use fallwright_case::{Budget, Estimate, Inputs, Progress};
use fallwright_report::terminal::check::Checked;

use crate::Error;

/// Reads and checks a case without judging anything or writing any file.
///
/// # Errors
/// Every fault of every layer.
pub fn check(case_file: &Path, budget: &Budget, progress: Progress) -> Result<Checked, Error> {
    let inputs = Inputs::open(case_file, budget, progress)?;
    progress("putting the layers on the ground");
    let ground = fallwright_study::build(&inputs)?;
    let changes_listed = fallwright_study::count_listed(&ground.setting.conditioned);
    Ok(Checked {
        estimate: Estimate::of(fallwright_study::size(&inputs, &ground.setting), changes_listed),
        structures: ground.setting.structures.len(),
        notes: [inputs.notes.clone(), ground.notes].concat(),
        inputs,
    })
}
