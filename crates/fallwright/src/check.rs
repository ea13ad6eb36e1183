//! Reads everything and tells what a run would meet.

use std::path::Path;

use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::ground::build;
use crate::inputs::{memory_needed, read_inputs};
use crate::outlets::{count_listed, most_changes};
use crate::summary::counted;

/// What was read, and what a run would need.
pub struct CheckReport {
    summary: Value,
    lines: Vec<String>,
}

impl CheckReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Processor time of the main job, without telling which findings depend on a cut or fill. It takes about as long by the
/// clock: most steps besides conditioning keep one core busy. Measured on invented cases of 4 and 16 million cells with 484
/// and 1,936 parcels, on a busy machine of two cores: 4.4 and 20.7 s. Long paths over many small parcels take more: 270 s for
/// 64 million cells and 20,000 parcels, where this says 118.
const SECONDS_PER_CELL: f64 = 900e-9;
const SECONDS_PER_PARCEL: f64 = 3e-3;
/// Processor time of telling apart the changes that can decide a finding: 1.9 to 2.3 ms for each listed one there, 0.1 ms on
/// a 1 m lidar model of 1 km².
const SECONDS_PER_LISTED_CHANGE: f64 = 2e-3;
/// The same of judging without one of them: 87 to 119 ns on all three.
const SECONDS_PER_CELL_AND_CHANGE: f64 = 100e-9;

/// Reads and checks a case without judging anything or writing any file.
///
/// # Errors
/// Every fault of every layer.
pub fn check(case: &Path, settings: &Settings, progress: Progress) -> Result<CheckReport, Failure> {
    let inputs = read_inputs(case, settings, progress)?;
    progress("putting the layers on the ground");
    let ground = build(&inputs)?;
    let frame = inputs.ground.frame;
    let notes = [inputs.notes.clone(), ground.notes].concat();
    let mebibytes = memory_needed(&frame, inputs.parcels.len()).div_ceil(1 << 20);
    let (cells, parcels) = (frame.len() as f64, inputs.parcels.len() as f64);
    let seconds = (cells * SECONDS_PER_CELL + parcels * SECONDS_PER_PARCEL).ceil();
    let listed = count_listed(&ground.setting.conditioned);
    let worked_out = listed.min(most_changes(&frame));
    let telling_apart = listed as f64 * SECONDS_PER_LISTED_CHANGE;
    let more_seconds = (telling_apart + worked_out as f64 * cells * SECONDS_PER_CELL_AND_CHANGE).ceil();
    let mut lines = vec![
        format!("{}: no fault found", inputs.case.name.as_deref().unwrap_or("case")),
        format!(
            "  elevation   {} x {} cells of {} x {} m in {}",
            frame.cols(),
            frame.rows(),
            frame.cell_width(),
            frame.cell_height(),
            inputs.crs.label()
        ),
        format!("  parcels     {}", inputs.parcels.len()),
        format!("  waterways   {}", inputs.waterways.len()),
        format!("  structures  {} of {} can be used", ground.setting.structures.len(), inputs.structures.len()),
        format!(
            "  the main job would take about {seconds} s and {mebibytes} MiB, and up to about {more_seconds} s more to tell"
        ),
        format!(
            "  which findings depend on one of {}, judging anew without {worked_out} of them at most",
            counted(listed, "listed cut or fill", "listed cuts and fills")
        ),
        "  it works in memory and needs no disk besides its results".to_owned(),
    ];
    if inputs.case.parcels.is_none() {
        lines.push("  without [parcels] only watershed and trace --at can be run".to_owned());
    }
    if !notes.is_empty() {
        lines.push(format!("  {}:", counted(notes.len(), "note", "notes")));
        lines.extend(notes.iter().map(|note| format!("    {}: {}; {}", note.about, note.found, note.done)));
    }
    let summary = json!({
        "cells": frame.len(),
        "crs": inputs.crs.label(),
        "parcels": inputs.parcels.len(),
        "waterways": inputs.waterways.len(),
        "structures": inputs.structures.len(),
        "estimate": { "seconds": seconds, "mebibytes": mebibytes, "scratch_mebibytes": 0, "changes_listed": listed, "changes_worked_out_at_most": worked_out, "more_seconds_at_most": more_seconds },
        "notes": notes.iter().map(|note| json!({ "about": note.about, "found": note.found, "done": note.done })).collect::<Vec<_>>(),
    });
    Ok(CheckReport { summary, lines })
}
