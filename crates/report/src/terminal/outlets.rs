//! The main job on a terminal.

use std::path::Path;

use fallwright_study::{Standings, Study};

use crate::CAUTION;
use crate::counts::{OutletsCounts, undecided_reasons};
use crate::words::{counted, hectares};

/// How many parcels have what standing, and why some are undecided.
pub fn outlets(study: &Study, standings: &Standings, out: &Path) -> Vec<String> {
    let counts = OutletsCounts::of(study, standings);
    let mut lines = vec![
        format!(
            "{}: {} judged under the profile {}",
            study.inputs.case.name.as_deref().unwrap_or("case"),
            counted(counts.parcels, "parcel", "parcels"),
            study.inputs.profile.id
        ),
        format!("  {:<28} {:>8} {:>14}", "", "parcels", "of their land"),
        format!("  {:<28} {:>8} {:>14}", "right of drainage indicated", counts.right, hectares(counts.right_ha)),
        format!("  {:<28} {:>8}", "right for a part only", counts.right_in_part),
        format!("  {:<28} {:>8} {:>14}", "  presumed, no schedule", counts.presumed, hectares(counts.presumed_ha)),
        format!("  {:<28} {:>8} {:>14}", "outlet to be acquired", counts.acquire, hectares(counts.acquire_ha)),
        format!("  {:<28} {:>8} {:>14}", "not decided by the data", counts.undecided, hectares(counts.undecided_ha)),
        "  (hectares are counted by share, so each sums parts of parcels of every standing)".to_owned(),
    ];
    let reasons = undecided_reasons(&standings.findings);
    if !reasons.is_empty() {
        lines.push("  not decided, in whole or in part, because".to_owned());
    }
    for (reason, count) in reasons {
        lines.push(format!("    {reason}: {}", counted(count, "parcel", "parcels")));
    }
    if counts.suspected_culverts > 0 {
        lines.push(format!(
            "  places to check in the field: {} where a road or bank holds water back (terrain_changes.geojson)",
            counts.suspected_culverts
        ));
    }
    if !study.notes.is_empty() {
        lines.push(format!(
            "  {} in run.json: what was put right or should be known",
            counted(study.notes.len(), "note", "notes")
        ));
    }
    lines.push(format!("Look first at {}", out.join("parcels.geojson").display()));
    lines.push(CAUTION.to_owned());
    lines
}
