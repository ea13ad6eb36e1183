//! Reads everything and tells what a run would meet.

use std::path::Path;

use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::ground::build;
use crate::inputs::{memory_needed, read_inputs};
use crate::outlets::most_changes;
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

/// Time that the main job takes on two cores, nanoseconds a cell (measured on the demonstration case), without working out
/// which findings depend on a cut or fill.
const NANOSECONDS_PER_CELL: f64 = 650.0;
/// The same for each change that is worked out (measured on a 1 m lidar model of 1 km²).
const NANOSECONDS_PER_CELL_AND_CHANGE: f64 = 100.0;

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
    let mebibytes = memory_needed(&frame).div_ceil(1 << 20);
    let seconds = (frame.len() as f64 * NANOSECONDS_PER_CELL * 1e-9).ceil();
    let worked_out = (frame.len() * most_changes(&frame)) as f64;
    let more_seconds = (worked_out * NANOSECONDS_PER_CELL_AND_CHANGE * 1e-9).ceil();
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
            "  the main job would take about {seconds} s and {mebibytes} MiB, and up to {more_seconds} s more to work out"
        ),
        format!("  which findings depend on a cut or fill, for {} of them at most", most_changes(&frame)),
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
        "estimate": { "seconds": seconds, "mebibytes": mebibytes, "scratch_mebibytes": 0, "changes_worked_out_at_most": most_changes(&frame), "more_seconds_at_most": more_seconds },
        "notes": notes.iter().map(|note| json!({ "about": note.about, "found": note.found, "done": note.done })).collect::<Vec<_>>(),
    });
    Ok(CheckReport { summary, lines })
}
