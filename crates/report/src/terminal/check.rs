//! What was read, and what a run would take.

use fallwright_case::{Estimate, Inputs, Note};
use serde_json::{Value, json};

use crate::records::run::Warning;
use crate::words::counted;

/// A case that was read and put on the ground.
pub struct Checked {
    pub inputs: Inputs,
    /// Structures that can carry water.
    pub structures: usize,
    pub estimate: Estimate,
    /// Notes of reading and of building, in order.
    pub notes: Vec<Note>,
}

pub fn check(Checked { inputs, structures, estimate, notes }: &Checked) -> Vec<String> {
    let frame = inputs.ground.frame;
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
        format!("  structures  {} of {} can be used", structures, inputs.structures.len()),
        format!("  constraints {}", constraints(inputs)),
    ];
    lines.extend(estimate_lines(estimate));
    if inputs.case.parcels.is_none() {
        lines.push("  without [parcels] only watershed and trace --at can be run".to_owned());
    }
    if !notes.is_empty() {
        lines.push(format!("  {}:", counted(notes.len(), "note", "notes")));
        lines.extend(notes.iter().map(|note| format!("    {}: {}; {}", note.about, note.found, note.done)));
    }
    lines
}

fn constraints(inputs: &Inputs) -> String {
    if inputs.case.constraints.is_empty() { "no layer given".to_owned() } else { inputs.constraints.len().to_string() }
}

fn estimate_lines(estimate: &Estimate) -> [String; 3] {
    let Estimate { seconds, more_seconds, mebibytes, disk_mebibytes, changes_listed, changes_left_out } = estimate;
    [
        format!(
            "  the main job would take about {seconds} s and {mebibytes} MiB, and up to about {more_seconds} s more to find"
        ),
        format!(
            "  which findings depend on one of {}, judging anew without {changes_left_out} of them at most",
            counted(*changes_listed, "listed cut or fill", "listed cuts and fills")
        ),
        format!("  it works in memory; its results may take up to about {disk_mebibytes} MiB of disk"),
    ]
}

pub fn check_summary(Checked { inputs, estimate, notes, .. }: &Checked) -> Value {
    let frame = inputs.ground.frame;
    json!({
        "cells": frame.len(),
        "crs": inputs.crs.label(),
        "parcels": inputs.parcels.len(),
        "waterways": inputs.waterways.len(),
        "structures": inputs.structures.len(),
        "estimate": estimate_summary(estimate),
        "notes": notes.iter().map(Warning::of).collect::<Vec<_>>(),
    })
}

fn estimate_summary(estimate: &Estimate) -> Value {
    json!({
        "seconds": estimate.seconds,
        "mebibytes": estimate.mebibytes,
        "scratch_mebibytes": 0,
        "results_mebibytes_at_most": estimate.disk_mebibytes,
        "changes_listed": estimate.changes_listed,
        "changes_worked_out_at_most": estimate.changes_left_out,
        "more_seconds_at_most": estimate.more_seconds,
    })
}
