//! Pages, sheets and profiles.

use std::path::{Path, PathBuf};

use fallwright_case::{Budget, Inputs, Progress};
use fallwright_report::{Output, Pdfs, SheetsOptions, SheetsWritten, write_sheets};

use crate::Error;

/// Whether sheets are drawn as PDFs too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pdf {
    Drawn,
    LeftOut,
}

/// Judges a case as [`super::outlets`] does and draws what was found.
///
/// # Errors
/// As [`super::outlets`]; an unknown parcel; a font file that is none; characters that no font has.
pub fn sheets(
    case_file: &Path,
    output: &Output,
    (options, pdf): (&SheetsOptions, Pdf),
    budget: &Budget,
    progress: Progress,
) -> Result<SheetsWritten, Error> {
    let pdfs = match pdf {
        Pdf::Drawn => Some(Pdfs::new(&options.fonts)?),
        Pdf::LeftOut => None,
    };
    let inputs = Inputs::open(case_file, budget, progress)?;
    inputs.require_parcels()?;
    let fonts = options.fonts.iter().map(PathBuf::as_path);
    let read: Vec<&Path> = inputs.case.files().into_iter().chain(fonts).collect();
    let folder = output.open(&read)?;
    let study = crate::study(inputs, progress)?;
    let standings = study.standings(progress)?;
    Ok(write_sheets(folder, &study, &standings, options, pdfs, progress)?)
}
