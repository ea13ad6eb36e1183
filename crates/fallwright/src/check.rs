//! Reads everything and tells what a run would meet.

use std::path::Path;

use fallwright_units::Frame;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::ground::build;
use crate::inputs::{crossings, memory_needed, read_inputs};
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

/// Processor time of the main job, without telling which findings depend on a cut or fill: a part for each cell and one for
/// each time that a path may cross a lot line. It takes about as long by the clock: most steps besides conditioning keep one
/// core busy. Measured on invented cases of 16, 64 and 400 million cells with 4,900, 20,000 and 20,000 parcels, on a busy
/// machine of two cores: 17, 108 and 364 s.
const SECONDS_PER_CELL: f64 = 800e-9;
const SECONDS_PER_CROSSING: f64 = 20e-6;
/// Processor time of telling apart the changes that can decide a finding: 2.6, 3.3 and 4.5 ms for each listed one there.
const SECONDS_PER_LISTED_CHANGE: f64 = 4.5e-3;
/// The same of judging without one of them, for each cell and each crossing: 2.4, 13.7 and 54 s in all there.
const SECONDS_PER_CELL_AND_CHANGE: f64 = 120e-9;
const SECONDS_PER_CROSSING_AND_CHANGE: f64 = 2e-6;
/// Bytes of the rasters written for each cell (3.1 to 3.5 there), of the lines of paths for each parcel and cell along a side of
/// the raster (43, 42 and 21) and of all that tells of crossings for each of them (1,010, 1,130 and 730).
const RASTER_BYTES_PER_CELL: f64 = 3.5;
const LINE_BYTES: f64 = 43.0;
const BYTES_WRITTEN_PER_CROSSING: f64 = 1100.0;

/// What a run would take.
struct Estimate {
    seconds: f64,
    /// Of telling which findings depend on a change, at most.
    more_seconds: f64,
    mebibytes: u64,
    /// Of the results, at most.
    disk_mebibytes: u64,
    changes_listed: usize,
    changes_worked_out: usize,
}

impl Estimate {
    fn of(frame: &Frame, parcels: usize, changes_listed: usize) -> Self {
        let (cells, crossings) = (frame.len() as f64, crossings(parcels));
        let changes_worked_out = changes_listed.min(most_changes(frame));
        let once_more = cells * SECONDS_PER_CELL_AND_CHANGE + crossings * SECONDS_PER_CROSSING_AND_CHANGE;
        let lines = parcels as f64 * cells.sqrt() * LINE_BYTES;
        let disk = cells * RASTER_BYTES_PER_CELL + lines + crossings * BYTES_WRITTEN_PER_CROSSING;
        Self {
            seconds: (cells * SECONDS_PER_CELL + crossings * SECONDS_PER_CROSSING).ceil(),
            more_seconds: (changes_listed as f64 * SECONDS_PER_LISTED_CHANGE + changes_worked_out as f64 * once_more)
                .ceil(),
            mebibytes: memory_needed(frame, parcels).div_ceil(1 << 20),
            disk_mebibytes: (disk as u64).div_ceil(1 << 20),
            changes_listed,
            changes_worked_out,
        }
    }

    fn lines(&self) -> [String; 3] {
        let Self { seconds, more_seconds, mebibytes, disk_mebibytes, changes_listed, changes_worked_out } = self;
        [
            format!(
                "  the main job would take about {seconds} s and {mebibytes} MiB, and up to about {more_seconds} s more to tell"
            ),
            format!(
                "  which findings depend on one of {}, judging anew without {changes_worked_out} of them at most",
                counted(*changes_listed, "listed cut or fill", "listed cuts and fills")
            ),
            format!("  it works in memory; its results may take up to about {disk_mebibytes} MiB of disk"),
        ]
    }

    fn json(&self) -> Value {
        json!({
            "seconds": self.seconds,
            "mebibytes": self.mebibytes,
            "scratch_mebibytes": 0,
            "results_mebibytes_at_most": self.disk_mebibytes,
            "changes_listed": self.changes_listed,
            "changes_worked_out_at_most": self.changes_worked_out,
            "more_seconds_at_most": self.more_seconds,
        })
    }
}

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
    let estimate = Estimate::of(&frame, inputs.parcels.len(), count_listed(&ground.setting.conditioned));
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
    ];
    lines.extend(estimate.lines());
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
        "estimate": estimate.json(),
        "notes": notes.iter().map(|note| json!({ "about": note.about, "found": note.found, "done": note.done })).collect::<Vec<_>>(),
    });
    Ok(CheckReport { summary, lines })
}
