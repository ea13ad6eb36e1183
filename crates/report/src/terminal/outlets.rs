//! The main job on a terminal.

use std::path::Path;

use fallwright_study::{Standings, Study};

use crate::caution::CAUTION;
use crate::counts::{OutletsCounts, undecided_reasons};
use crate::words::{counted, hectares};

/// A row for each standing; below it what is counted apart, where there is some.
fn rows(counts: &OutletsCounts) -> Vec<String> {
    let all = |words: &str, parcels: usize, area: Option<f64>| {
        let area = area.map(hectares).unwrap_or_default();
        format!("  {words:<28} {parcels:>8} {area:>14}").trim_end().to_owned()
    };
    let some = |words: &str, parcels: usize, area: Option<f64>| (parcels > 0).then(|| all(words, parcels, area));
    [
        Some(all("right of drainage indicated", counts.right, Some(counts.right_ha))),
        Some(all("right for a part only", counts.right_in_part, None)),
        some("  presumed, no schedule", counts.presumed, Some(counts.presumed_ha)),
        Some(all("outlet to be acquired", counts.acquire, Some(counts.acquire_ha))),
        some("  water ends in a depression", counts.ends_in_depression, None),
        Some(all("not decided by the data", counts.undecided, Some(counts.undecided_ha))),
        some("  water leaves the data", counts.leaves_data, None),
        some("  not judged, no elevation", counts.not_judged, None),
    ]
    .into_iter()
    .flatten()
    .collect()
}

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
    ];
    lines.extend(rows(&counts));
    lines.push("  (hectares are counted by share, so each sums parts of parcels of every standing)".to_owned());
    let reasons = undecided_reasons(&standings.findings);
    if !reasons.is_empty() {
        lines.push("  not decided, in whole or in part, because".to_owned());
    }
    for (reason, count) in reasons {
        lines.push(format!("    {reason}: {}", counted(count, "parcel", "parcels")));
    }
    if counts.suspected_culverts > 0 {
        lines.push(format!(
            "  places to check in the field: {} where a road or bank holds water back, {} more without consequence (terrain_changes.geojson)",
            counts.suspected_culverts_of_consequence,
            counts.suspected_culverts - counts.suspected_culverts_of_consequence
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
