//! Which land needs drainage: it has no right of drainage, or water stands on it.

use std::collections::BTreeMap;

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
    /// Shares of which some hectares have no right: the hectares of each that have none, and those that have one or are undecided.
    /// Which of its cells these are is not known.
    pub(super) without_right: BTreeMap<(ParcelIx, ShareIx), (f64, f64)>,
}

impl<'a> NeedsDrainage<'a> {
    /// *Complexity*: O(n) for n cells.
    pub(super) fn of(study: &'a Study, findings: &TiSlice<ParcelIx, Finding>) -> Self {
        let mut without_right: BTreeMap<(ParcelIx, ShareIx), (f64, f64)> = BTreeMap::new();
        for (parcel, finding) in findings.iter_enumerated() {
            for share in &finding.shares {
                let (without, other) = without_right.entry((parcel, share.leaving_point)).or_default();
                *(if share.standing == ShareStanding::Acquire { without } else { other }) += share.hectares.hectares();
            }
        }
        without_right.retain(|_, &mut (without, _)| without > 0.0);
        Self { study, shares: ShareCells::find(&study.setting, &study.shares), without_right }
    }

    pub(super) fn is_needed(&self, cell: Cell) -> bool {
        self.share_without_right(cell).is_some() || self.is_under_water(cell)
    }

    /// Hectares of a parcel without a right.
    pub(super) fn hectares_without_right(&self, parcel: ParcelIx) -> f64 {
        self.own_shares(parcel).map(|(without, _)| without).sum()
    }

    /// Hectares of the same shares that have a right or are undecided.
    pub(super) fn hectares_of_another_standing(&self, parcel: ParcelIx) -> f64 {
        self.own_shares(parcel).map(|(_, other)| other).sum()
    }

    fn own_shares(&self, parcel: ParcelIx) -> impl Iterator<Item = (f64, f64)> + '_ {
        let own = (parcel, ShareIx(0))..(ParcelIx(parcel.0 + 1), ShareIx(0));
        self.without_right.range(own).map(|(_, &hectares)| hectares)
    }

    /// The share without a right, wholly or in part, that a cell of its parcel belongs to.
    pub(super) fn share_without_right(&self, cell: Cell) -> Option<(ParcelIx, ShareIx)> {
        self.shares.of(&self.study.setting, cell).filter(|share| self.without_right.contains_key(share))
    }

    /// Whether the terrain would hold water there until it spills, but for what drains below ground.
    pub(super) fn is_under_water(&self, cell: Cell) -> bool {
        self.study.setting.flow().has_data(cell) && self.study.setting.filled_m(cell) >= STANDING_WATER_M
    }
}
