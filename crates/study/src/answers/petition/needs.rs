//! Which land needs drainage: it has no right of drainage, or water stands on it.

use std::collections::BTreeSet;

use fallwright_law::{Finding, ShareStanding};
use fallwright_units::{Cell, ParcelIx, ShareIx};
use typed_index_collections::TiSlice;

use crate::share_cells::ShareCells;
use crate::study::Study;

/// Water that the terrain holds less deep than this may be noise of the elevation, metres (our choice: about the accuracy of heights
/// from airborne laser scanning).
const STANDING_WATER_M: f64 = 0.1;

pub(super) struct NeedsDrainage<'a> {
    study: &'a Study,
    shares: ShareCells,
    /// Shares of which some hectares have no right.
    pub(super) without_right: BTreeSet<(ParcelIx, ShareIx)>,
}

impl<'a> NeedsDrainage<'a> {
    /// *Complexity*: O(n) for n cells.
    pub(super) fn of(study: &'a Study, findings: &TiSlice<ParcelIx, Finding>) -> Self {
        let without_right = findings.iter_enumerated().flat_map(|(parcel, finding)| {
            let shares = finding.shares.iter().filter(|share| share.standing == ShareStanding::Acquire);
            shares.map(move |share| (parcel, share.leaving_point))
        });
        Self { study, shares: ShareCells::find(&study.setting, &study.shares), without_right: without_right.collect() }
    }

    pub(super) fn is_needed(&self, cell: Cell) -> bool {
        self.share_without_right(cell).is_some() || self.is_under_water(cell)
    }

    /// The share without a right that a cell of its parcel belongs to.
    pub(super) fn share_without_right(&self, cell: Cell) -> Option<(ParcelIx, ShareIx)> {
        self.shares.of(&self.study.setting, cell).filter(|share| self.without_right.contains(share))
    }

    /// Whether the terrain would hold water there until it spills, but for what drains below ground.
    pub(super) fn is_under_water(&self, cell: Cell) -> bool {
        self.study.setting.flow().has_data(cell) && self.study.setting.filled_m(cell) >= STANDING_WATER_M
    }
}
