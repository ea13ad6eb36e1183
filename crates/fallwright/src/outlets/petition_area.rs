//! The area that a petition could name: a real basin, and in it the land that has the problem.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::{Finding, ShareStanding, Way, WayKind};
use fallwright_report::{AreaItem, Received};
use fallwright_units::Cell;

use crate::study::Study;

/// Land without a right, by the cell at which its water comes to its outlet or end.
pub(super) struct PetitionAreas {
    by_entry: BTreeMap<Cell, BTreeMap<usize, f64>>,
}

impl PetitionAreas {
    pub(super) fn find(study: &Study, findings: &[Finding]) -> Self {
        let mut by_entry: BTreeMap<Cell, BTreeMap<usize, f64>> = BTreeMap::new();
        for (parcel, finding) in findings.iter().enumerate() {
            for share in finding.shares.iter().filter(|share| share.standing == ShareStanding::Acquire) {
                let entry = entry(study, parcel, share.leaving_point);
                *by_entry.entry(entry).or_default().entry(parcel).or_default() += share.hectares.hectares();
            }
        }
        Self { by_entry }
    }

    /// For a petition: the parcels whose water comes to the outlet at the same places as that of the shares it serves, with
    /// their hectares that have no right; and all land that drains through these places.
    pub(super) fn of(&self, study: &Study, parcel: usize, way: &Way) -> Option<AreaItem> {
        if way.way != WayKind::Petition {
            return None;
        }
        let positions = || way.shares.iter().map(|&share| share as usize - 1);
        let entries: BTreeSet<Cell> = positions().map(|position| entry(study, parcel, position)).collect();
        let mut hectares: BTreeMap<usize, f64> = BTreeMap::new();
        for (&parcel, &area) in entries.iter().filter_map(|entry| self.by_entry.get(entry)).flatten() {
            *hectares.entry(parcel).or_default() += area;
        }
        let basin: BTreeMap<Cell, u64> = positions().map(|position| basin_cells(study, parcel, position)).collect();
        Some(AreaItem {
            hectares: fallwright_report::hectares(hectares.values().sum()),
            basin_ha: study.hectares(basin.values().sum()),
            parcels: hectares
                .into_iter()
                .map(|(parcel, area)| Received {
                    parcel_id: study.inputs.parcels[parcel].id.to_string(),
                    hectares: fallwright_report::hectares(area),
                })
                .collect(),
        })
    }
}

/// The last cell on a share's path before its outlet, or where it ends.
fn entry(study: &Study, parcel: usize, share: usize) -> Cell {
    let trace = &study.traces[parcel][share];
    let last = trace.stations.len() - 1;
    let before = if trace.outlet.is_some() { last.saturating_sub(1) } else { last };
    trace.stations[before].cell
}

/// The cells that drain through a share's entry. Where water comes to its outlet on the parcel itself they are the share.
fn basin_cells(study: &Study, parcel: usize, share: usize) -> (Cell, u64) {
    let entry = entry(study, parcel, share);
    let on_own_land = study.traces[parcel][share].stations.len() == 1;
    (entry, if on_own_land { study.shares[parcel][share].cells } else { study.setting.area[entry] })
}
