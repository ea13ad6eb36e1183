//! Which findings depend on a cut: everything worked out anew without it and without those through the same bank.

use std::collections::BTreeSet;
use std::sync::Arc;

use fallwright_law::{Finding, Outlet};
use fallwright_terrain::Cut;
use fallwright_units::{Cell, Frame};

use super::changes::Change;
use super::judged;
use crate::Progress;
use crate::failure::Failure;
use crate::study::{Study, work_out};
use crate::suspect::lowered;

/// At most this many cuts are worked out, and on large rasters as many as make up this many cells (our choice).
const MOST_CUTS: usize = 25;
const MOST_CELLS: usize = 100_000_000;

/// Cuts this near each other go through the same bank (our choice).
const SAME_BANK_M: f64 = 30.0;

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
        let without = change.pit.map(|pit| same_barrier(study, pit)).unwrap_or_default();
        let other = work_out(Arc::clone(&study.inputs), &without, &|_| {})?;
        let differs = |(now, then): &(&Finding, Finding)| conclusion(now) != conclusion(then);
        let depending = findings.iter().zip(judged(&other)).zip(&study.inputs.parcels);
        let depending = depending.filter(|(findings, _)| differs(findings)).map(|(_, parcel)| parcel.id.to_string());
        change.record.properties.finding_depends = Some(depending.collect());
    }
    Ok(())
}

/// The pits of a cut and of those that would let the same water through: cuts from the same depression, and cuts through
/// the same bank, whose lowered ground comes within [`SAME_BANK_M`].
fn same_barrier(study: &Study, pit: Cell) -> BTreeSet<Cell> {
    let (frame, ground) = (study.setting.frame(), &study.setting.ground);
    let cuts = &study.setting.conditioned.cuts;
    let Some(this) = cuts.iter().find(|cut| cut.way.path[0] == pit) else { return BTreeSet::from([pit]) };
    let near = |other: &Cut| {
        lowered(ground, other).any(|a| lowered(ground, this).any(|b| frame.distance(a, b) <= SAME_BANK_M))
    };
    let same = cuts.iter().filter(|other| other.depression == this.depression || near(other));
    same.map(|cut| cut.way.path[0]).collect()
}

/// What a reader would act on: standing, basis, outlet, and hectares to the tenth.
fn conclusion(finding: &Finding) -> (&str, Option<&str>, Option<&Outlet>, [i64; 3]) {
    let tenths =
        [finding.right, finding.acquire, finding.undecided].map(|area| (area.hectares() * 10.0).round() as i64);
    (finding.standing.code(), finding.basis.as_deref(), finding.outlet.as_ref(), tenths)
}
