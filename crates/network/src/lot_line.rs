//! What smaller cells could change along a parcel's lot line.

use std::collections::BTreeSet;

use fallwright_units::{Cell, ParcelIx, ShareIx};
use typed_index_collections::{TiSlice, TiVec};

use crate::{Destinations, Party, Setting, Share};

/// Cells beyond a lot line within which a divide may lie on the other side of the line when cells are smaller. Our choice: with
/// one, a quarter of the findings that changed on averaged ground were still missed.
const BESIDE: i32 = 2;

/// For each parcel that was looked at, what smaller cells along its lot line could change.
#[derive(Clone, Debug, Default)]
pub struct LotLines {
    /// Shares of which every cell touches land of others, or ground without elevation.
    at_line: BTreeSet<(ParcelIx, ShareIx)>,
    /// Parcels with a cell beside them whose water has a destination that none of their shares has.
    other_beside: BTreeSet<ParcelIx>,
}

impl LotLines {
    /// Looks at the parcels that `looks_at` selects. `share_of` returns the share that a cell's water belongs to. The remainder's
    /// destination is not among those of the shares: it is none that a finding would state.
    ///
    /// *Complexity*: O(n) for n cells and O(s) for s shares.
    pub fn find(
        setting: &Setting,
        destinations: &Destinations,
        shares: &TiSlice<ParcelIx, TiVec<ShareIx, Share>>,
        share_of: impl Fn(Cell) -> Option<(ParcelIx, ShareIx)>,
        looks_at: impl Fn(ParcelIx) -> bool,
    ) -> Self {
        let seen: TiVec<ParcelIx, bool> = shares.keys().map(looks_at).collect();
        let all = shares.iter_enumerated().filter(|&(parcel, _)| seen[parcel]);
        let mut at_line: BTreeSet<_> =
            all.flat_map(|(parcel, shares)| shares.keys().map(move |share| (parcel, share))).collect();
        let mut other_beside = BTreeSet::new();
        if at_line.is_empty() {
            return Self::default();
        }
        for cell in setting.parties.cells() {
            let Party::Parcel(parcel) = setting.parties.of(cell) else { continue };
            if !seen[parcel] || !setting.flow().has_data(cell) {
                continue;
            }
            if is_inside(setting, cell) {
                share_of(cell).map(|share| at_line.remove(&share));
            } else if !other_beside.contains(&parcel) && borders_on_other(setting, destinations, &shares[parcel], cell)
            {
                other_beside.insert(parcel);
            }
        }
        Self { at_line, other_beside }
    }

    /// Whether every cell of a share lies within one cell of the lot line.
    pub fn holds_all_of(&self, parcel: ParcelIx, share: ShareIx) -> bool {
        self.at_line.contains(&(parcel, share))
    }

    /// Whether a cell no more than two cells off the parcel has a destination that none of its shares has.
    pub fn has_other_destination_beside(&self, parcel: ParcelIx) -> bool {
        self.other_beside.contains(&parcel)
    }
}

/// Whether all eight cells about a cell are of the same land and have elevation.
fn is_inside(setting: &Setting, cell: Cell) -> bool {
    let party = setting.parties.of(cell);
    let of_it = |next: Cell| setting.parties.of(next) == party && setting.flow().has_data(next);
    setting.frame().neighbours(cell).filter(|&(_, next)| of_it(next)).count() == 8
}

fn borders_on_other(
    setting: &Setting,
    destinations: &Destinations,
    shares: &TiSlice<ShareIx, Share>,
    cell: Cell,
) -> bool {
    let party = setting.parties.of(cell);
    let is_found = |destination| shares.iter().any(|share| !share.is_remainder && share.destination == destination);
    let steps = (-BESIDE..=BESIDE).flat_map(|dc| (-BESIDE..=BESIDE).map(move |dr| (dc, dr)));
    let beside = steps.filter_map(|step| setting.frame().step(cell, step));
    let off_it = beside.filter(|&next| setting.parties.of(next) != party);
    off_it.filter_map(|next| destinations.of(next)).any(|destination| !is_found(destination))
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Conditioning, condition};
    use fallwright_units::{Frame, Raster, WaterwayId};

    use super::*;
    use crate::{Parties, ShareLimits, Waterway, shares};

    /// Rows of one letter for each cell: `a` and `b` are parcels, `.` is no parcel's. A creek runs down the first column and one
    /// down the last; the ground falls from the column `crest` to both. For parcel `a`: how many of its shares lie
    /// within one cell of its lot line, and whether another destination lies beside it.
    fn check(rows: &[&str], crest: f32, at_line: usize, other_beside: bool) {
        let cols = rows[0].len();
        let frame = Frame::new(cols, rows.len(), (0.0, 0.0), (10.0, 10.0)).unwrap();
        let height = |col: usize| 10.0 - (crest - col as f32).abs();
        let values = (0..rows.len()).flat_map(|_| (0..cols).map(height)).collect();
        let party = |letter| match letter {
            b'a' => Party::Parcel(ParcelIx(0)),
            b'b' => Party::Parcel(ParcelIx(1)),
            _ => Party::Unowned,
        };
        let creek = |id: &str, col| Waterway {
            id: WaterwayId::new(id),
            class: "x".into(),
            lawful: true,
            chains: vec![(0..rows.len()).map(|row| frame.cell(col, row)).collect()],
            shares: vec![],
            waters: Vec::new(),
            is_lake: false,
        };
        let waterways = vec![creek("W", 0), creek("E", cols - 1)];
        let channels = waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect();
        let ground = Raster { frame, values };
        let conditioned = condition(&ground, Conditioning { channels, ..Conditioning::default() }).unwrap();
        let parties = Parties::new(rows.iter().flat_map(|row| row.bytes().map(party)));
        let setting = Setting::new(ground.into(), conditioned, parties.into(), 2, waterways.into(), TiVec::new());
        let destinations = Destinations::find(&setting);
        let shares = shares(&setting, ShareLimits { fraction: 0.0, cells: 0.0 });
        let of = |cell| match setting.parties.of(cell) {
            Party::Parcel(parcel) => {
                let found = shares[parcel].position(|share| Some(share.destination) == destinations.of(cell));
                found.map(|share| (parcel, share))
            }
            _ => None,
        };
        let all = LotLines::find(&setting, &destinations, &shares, of, |_| true);
        let own = shares[ParcelIx(0)].keys().filter(|&share| all.holds_all_of(ParcelIx(0), share)).count();
        assert_eq!((own, all.has_other_destination_beside(ParcelIx(0))), (at_line, other_beside), "{rows:?}, {crest}");
        let none = LotLines::find(&setting, &destinations, &shares, of, |_| false);
        assert!(!none.has_other_destination_beside(ParcelIx(0)) && !none.holds_all_of(ParcelIx(0), ShareIx(0)));
    }

    /// By hand: columns up to 7, and up to 8, run west.
    #[test]
    fn a_divide_beside_the_lot_line_and_one_beyond_the_cells_looked_at() {
        let rows = ["..aaaaa.........", "..aaaaa.........", "..aaaaa.........", "..aaaaa........."];
        check(&rows, 7.4, 0, true);
        check(&rows, 8.4, 0, false);
    }

    #[test]
    fn a_share_is_at_the_line_where_none_of_its_cells_lies_inside() {
        let rows = ["................", "..aaaaaaaa......", "..aaaaaaaa......", "..aaaaaaaa......", "................"];
        // The creek in the east takes the last column of the parcel, which touches its lot line, or the last three.
        check(&rows, 8.4, 1, false);
        check(&rows, 6.4, 0, false);
        let strip = ["................", "..aaaaaaaa......", "..aaaaaaaa......", "................"];
        check(&strip, 6.4, 2, false);
    }
}
