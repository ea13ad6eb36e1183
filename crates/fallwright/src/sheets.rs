//! Pictures that people can use: the overview page, printable sheets and profiles.

mod click;
mod doubts;
mod furniture;
mod overview;
mod page_parcels;
mod shade;

use std::path::Path;

use fallwright_report::overview_page;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::outlets::{Results, counts, require_parcels, settings_of};
use crate::output::output_folder;
use crate::run_record::{RunRecord, input_digests, input_files};

/// What is drawn, and what stands on it.
#[derive(Clone, Debug, Default)]
pub struct SheetsOptions {
    /// The day that stands on every page, as `2026-11-25`.
    pub run_date: String,
}

pub struct SheetsReport {
    summary: Value,
    lines: Vec<String>,
    /// Parcels that the data could not decide.
    pub undecided: usize,
}

impl SheetsReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Judges a case as [`crate::outlets`] does and draws what it found.
///
/// # Errors
/// As [`crate::outlets`].
pub fn sheets(
    case: &Path,
    out: &Path,
    options: &SheetsOptions,
    settings: &Settings,
    progress: Progress,
) -> Result<SheetsReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    require_parcels(&inputs)?;
    let mut folder = output_folder(out, &input_files(&inputs.case), settings)?;
    let results = Results::work_out(inputs, progress)?;
    progress("drawing the overview page");
    let digests = input_digests(&results.study.inputs.case)?;
    let furniture = furniture::furniture(&results.study, &options.run_date, &digests);
    let page = overview_page(&overview::overview(&results, furniture));
    folder.write_bytes("overview.html", page.as_bytes())?;
    let counts = counts(&results.study, &results.findings, &results.changes);
    let mut settings = settings_of(&results.study);
    settings["run_date"] = json!(options.run_date);
    RunRecord { command: "sheets", settings, counts: counts.clone(), notes: &results.study.notes }
        .write(&mut folder, digests)?;
    folder.commit()?;
    let lines = vec![
        format!("{} of {:.1} MB", out.join("overview.html").display(), page.len() as f64 / 1e6),
        "Open it by double click; it needs no network.".to_owned(),
        fallwright_report::CAUTION.to_owned(),
    ];
    let undecided = counts["undecided"].as_u64().unwrap_or_default() as usize;
    Ok(SheetsReport { summary: json!({ "out": out.display().to_string(), "counts": counts }), lines, undecided })
}
