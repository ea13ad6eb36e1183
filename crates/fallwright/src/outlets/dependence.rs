//! Which findings depend on a cut: everything worked out anew without it.

use std::collections::BTreeSet;
use std::sync::Arc;

use fallwright_law::{Finding, Outlet};
use fallwright_units::{Cell, Frame};

use super::changes::Change;
use super::judged;
use crate::Progress;
use crate::failure::Failure;
use crate::study::{Study, work_out};

/// At most this many cuts are worked out, and on large rasters as many as make up this many cells (our choice).
const MOST_CUTS: usize = 25;
const MOST_CELLS: usize = 100_000_000;

/// How many cuts are tried on a raster.
pub(crate) fn most_cuts(frame: &Frame) -> usize {
    MOST_CUTS.min(MOST_CELLS / frame.len())
}

/// Fills in `finding_depends` of the cuts that paths cross: suspected culverts first, then those that release most land.
pub(super) fn work_out_dependence(
    study: &Study,
    findings: &[Finding],
    changes: &mut [Change],
    progress: Progress,
) -> Result<(), Failure> {
    let most = most_cuts(&study.setting.frame());
    let mut crossed: Vec<&mut Change> = changes
        .iter_mut()
        .filter(|change| change.pit.is_some() && !change.record.properties.parcels.is_empty())
        .collect();
    crossed.sort_by_key(|change| !change.record.properties.suspected_culvert);
    for change in crossed.into_iter().take(most) {
        progress(&format!("judging without the cut {}", change.record.properties.change_id));
        let without: BTreeSet<Cell> = change.pit.into_iter().collect();
        let other = work_out(Arc::clone(&study.inputs), &without, &|_| {})?;
        let differs = |(now, then): &(&Finding, Finding)| conclusion(now) != conclusion(then);
        let depending = findings.iter().zip(judged(&other)).zip(&study.inputs.parcels);
        let depending = depending.filter(|(findings, _)| differs(findings)).map(|(_, parcel)| parcel.id.to_string());
        change.record.properties.finding_depends = Some(depending.collect());
    }
    Ok(())
}

/// What a reader would act on: standing, basis, outlet, and hectares to the tenth.
fn conclusion(finding: &Finding) -> (&str, Option<&str>, Option<&Outlet>, [i64; 3]) {
    let tenths =
        [finding.right, finding.acquire, finding.undecided].map(|area| (area.hectares() * 10.0).round() as i64);
    (finding.standing.code(), finding.basis.as_deref(), finding.outlet.as_ref(), tenths)
}
