//! Counts of a run, as `run.json` and the summary of a command have them.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::{Finding, ShareStanding, Standing};
use fallwright_study::{CapacityCheck, Standings, Study, Sufficiency};
use fallwright_units::ParcelIx;
use serde::{Serialize, Serializer};
use typed_index_collections::TiSlice;

use crate::palette::standing_style;
use crate::rounded::{hectares, metres};
use crate::words::reason_words;

/// Of the main job.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OutletsCounts {
    pub parcels: usize,
    pub right: usize,
    pub right_in_part: usize,
    pub acquire: usize,
    pub undecided: usize,
    pub right_ha: f64,
    /// Parcels on a drain whose schedule is not supplied, so that they are presumed assessed; they count among those with
    /// a right.
    pub presumed: usize,
    /// Of `right_ha`.
    pub presumed_ha: f64,
    pub acquire_ha: f64,
    /// Of `acquire`: the water ends in a depression.
    pub ends_in_depression: usize,
    /// Of `undecided`: the water leaves the data or runs into a hole in it.
    pub leaves_data: usize,
    /// Of `undecided`: not judged, since the elevation does not cover the parcel.
    pub not_judged: usize,
    pub undecided_ha: f64,
    pub cells_with_elevation: u64,
    pub cells_to_ends: u64,
    pub reaches: usize,
    pub structures: usize,
    pub slivers: usize,
    pub terrain_changes: usize,
    pub fill_m3: f64,
    pub depressions_filled: usize,
    pub barriers_cut: usize,
    pub cut_m3: f64,
    pub depressions_kept: usize,
    pub suspected_culverts: usize,
    /// Those that have a rank.
    pub suspected_culverts_of_consequence: usize,
}

impl OutletsCounts {
    pub fn of(study: &Study, Standings { findings, changes, filled, .. }: &Standings) -> Self {
        let of = |standing: Standing| findings.iter().filter(|finding| finding.standing == standing).count();
        let drawn = |style: &str| findings.iter().filter(|finding| standing_style(finding) == style).count();
        let total = |area: fn(&Finding) -> f64| hectares(findings.iter().map(area).sum());
        let setting = &study.setting;
        let cuts = &setting.conditioned.cuts;
        let cut_m3 = cuts.iter().map(|cut| cut.lowering_m).sum::<f64>() * setting.frame().cell_square_metres();
        Self {
            parcels: findings.len(),
            right: of(Standing::Right),
            right_in_part: of(Standing::RightInPart),
            acquire: of(Standing::Acquire),
            undecided: of(Standing::Undecided),
            right_ha: total(|finding| finding.right.hectares()),
            presumed: findings.iter().filter(|finding| finding.presumed.hectares() > 0.0).count(),
            presumed_ha: total(|finding| finding.presumed.hectares()),
            ends_in_depression: drawn("ends_in_depression"),
            leaves_data: drawn("leaves_data"),
            not_judged: drawn("not_judged"),
            acquire_ha: total(|finding| finding.acquire.hectares()),
            undecided_ha: total(|finding| finding.undecided.hectares()),
            cells_with_elevation: setting.ground.values.iter().filter(|z| !z.is_nan()).count() as u64,
            cells_to_ends: setting.ends().keys().map(|&cell| setting.area(cell)).sum(),
            reaches: study.reaches.list.len(),
            structures: setting.structures.len(),
            slivers: study.inputs.slivers.len(),
            terrain_changes: changes.len(),
            fill_m3: metres(filled.volume_m3),
            depressions_filled: filled.depressions,
            barriers_cut: cuts.len(),
            cut_m3: metres(cut_m3),
            depressions_kept: study.kept.len(),
            suspected_culverts: changes.iter().filter(|change| change.suspected_culvert.is_some()).count(),
            suspected_culverts_of_consequence: changes.iter().filter(|change| change.rank.is_some()).count(),
        }
    }
}

/// Why parcels are undecided, in whole or in part, in plain words, with the number of parcels.
pub(crate) fn undecided_reasons(findings: &TiSlice<ParcelIx, Finding>) -> BTreeMap<&'static str, usize> {
    let mut reasons = BTreeMap::new();
    for finding in findings {
        let shares = finding.shares.iter().filter(|share| share.standing == ShareStanding::Undecided);
        let undecided = shares.flat_map(|share| &share.reasons).filter(|reason| reason.leaves_undecided());
        let own: BTreeSet<&str> = undecided.map(|&reason| reason_words(reason)).collect();
        for reason in own {
            *reasons.entry(reason).or_default() += 1;
        }
    }
    reasons
}

/// Of the check of capacity.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CapacityCounts {
    pub links: usize,
    pub links_sufficient: usize,
    pub links_insufficient: usize,
    pub links_not_checked: usize,
    pub parcels: usize,
    pub parcels_sufficient: usize,
    pub parcels_insufficient: usize,
    pub parcels_not_checked: usize,
}

impl CapacityCounts {
    pub fn of(check: &CapacityCheck) -> Self {
        let links = |sufficiency| check.checked.iter().filter(|checked| checked.sufficiency() == sufficiency).count();
        let parcels = |sufficiency| check.parcels.iter().filter(|parcel| parcel.sufficiency == sufficiency).count();
        Self {
            links: check.checked.len(),
            links_sufficient: links(Sufficiency::Sufficient),
            links_insufficient: links(Sufficiency::Insufficient),
            links_not_checked: links(Sufficiency::NotChecked),
            parcels: check.parcels.len(),
            parcels_sufficient: parcels(Sufficiency::Sufficient),
            parcels_insufficient: parcels(Sufficiency::Insufficient),
            parcels_not_checked: parcels(Sufficiency::NotChecked),
        }
    }
}

/// Of a watershed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WatershedCounts {
    pub surface_ha: f64,
    pub piped_ha: f64,
    pub meets_edge: bool,
    pub parts: usize,
    pub lands: usize,
}

/// Of conditioning one raster.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TerrainCounts {
    pub cells_with_elevation: usize,
    pub depressions_kept: usize,
    pub depressions_filled: usize,
    pub cells_raised: usize,
    pub fill_m3: f64,
    #[serde(serialize_with = "rounded_m")]
    pub deepest_fill_m: f64,
    pub depressions_cut: usize,
    pub cut_m3: f64,
    pub suspected_culverts: usize,
    /// Those through which most land drains, most first.
    pub largest_suspected_culverts: Vec<SuspectedCulvert>,
}

/// A culvert suspected by shape, in map coordinates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SuspectedCulvert {
    pub x: f64,
    pub y: f64,
    #[serde(serialize_with = "rounded_m")]
    pub depth_m: f64,
    #[serde(serialize_with = "rounded_ha")]
    pub draining_ha: f64,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "as serde calls it")]
fn rounded_m<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(metres(*value))
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "as serde calls it")]
fn rounded_ha<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64(hectares(*value))
}
