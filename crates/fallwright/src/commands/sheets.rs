//! Pages, sheets and profiles.

use std::path::Path;

use fallwright_case::{Budget, Inputs, Progress};
use fallwright_report::{Output, Print, Sheet, SheetsOptions, SheetsWritten, WriteError, print_page, write_sheets};

use super::chromium::Chromium;
use crate::Error;

/// Whether sheets are printed as PDFs too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pdf {
    /// A Chromium must be on the path.
    Printed,
    LeftOut,
}

/// Judges a case as [`super::outlets`] does and draws what was found.
///
/// # Errors
/// As [`super::outlets`]; an unknown parcel; no browser to print PDFs, or one that fails.
pub fn sheets(
    case_file: &Path,
    output: &Output,
    (options, pdf): (&SheetsOptions, Pdf),
    budget: &Budget,
    progress: Progress,
) -> Result<SheetsWritten, Error> {
    let printer = match pdf {
        Pdf::Printed => Some(Chromium::find()?),
        Pdf::LeftOut => None,
    };
    let inputs = Inputs::open(case_file, budget, progress)?;
    inputs.require_parcels()?;
    let folder = output.open(&inputs.case.files())?;
    let study = crate::study(inputs, progress)?;
    let standings = study.standings(progress)?;
    let print = |printer: &Chromium, sheets: &[Sheet]| printer.print(&print_page(sheets), &options.run_date);
    let print = printer
        .as_ref()
        .map(|printer| move |sheets: &[Sheet]| -> Result<Vec<u8>, WriteError> { print(printer, sheets) });
    let print = print.as_ref().map(|print| print as Print);
    Ok(write_sheets(folder, &study, &standings, options, print, progress)?)
}
