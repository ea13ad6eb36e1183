//! How far the divides of a share stand above the place where its water leaves.

use std::collections::BTreeMap;

use fallwright_units::{Cell, ParcelIx, ShareIx};

use crate::{Destinations, Setting};

/// For each share that borders on land with another destination: how far the divide between them
/// stands above the cell where the share leaves, metres on the ground as surveyed; half of the divide is no higher.
///
/// A divide lies between two neighbouring cells with different destinations, one of them of the share, at the level of the
/// higher. The half, and not the lowest place: where a divide runs down a slope beside the water's way its lower end is
/// always low, and says nothing about the field.
///
/// `share_of` returns the share that a cell's water belongs to, `leaving` where it leaves.
///
/// *Complexity*: O(n) for n cells and O(d log d) for d cells along divides.
pub fn divide_heights(
    setting: &Setting,
    destinations: &Destinations,
    share_of: impl Fn(Cell) -> Option<(ParcelIx, ShareIx)>,
    leaving: impl Fn((ParcelIx, ShareIx)) -> Cell,
) -> BTreeMap<(ParcelIx, ShareIx), f64> {
    let (frame, flow) = (setting.frame(), setting.flow());
    let level = |cell: Cell| f64::from(setting.ground[cell]);
    let mut divides: BTreeMap<(ParcelIx, ShareIx), Vec<f64>> = BTreeMap::new();
    for cell in setting.parties.cells().filter(|&cell| flow.has_data(cell)) {
        let beside = frame.neighbours(cell).map(|(_, next)| next);
        let other = beside.filter(|&next| flow.has_data(next) && destinations.differ(cell, next));
        let divide = other.map(|next| level(next).max(level(cell))).min_by(f64::total_cmp);
        if let (Some(divide), Some(share)) = (divide, share_of(cell)) {
            divides.entry(share).or_default().push(divide);
        }
    }
    let height = |(share, mut levels): ((ParcelIx, ShareIx), Vec<f64>)| {
        levels.sort_by(f64::total_cmp);
        (share, levels[(levels.len() - 1) / 2] - level(leaving(share)))
    };
    divides.into_iter().map(height).collect()
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Conditioning, condition};
    use fallwright_units::{Frame, Raster, WaterwayId};
    use typed_index_collections::TiVec;

    use super::*;
    use crate::{Parties, Party, ShareLimits, Waterway, shares};

    /// One parcel of cells of 10 m between two creeks, in its first column and its last. Heights of the divide by share, the
    /// larger first.
    fn check(rows: &[&[f32]], expected: &[f64]) {
        let frame = Frame::new(rows[0].len(), rows.len(), (0.0, 0.0), (10.0, 10.0)).unwrap();
        let creek = |id: &str, col| Waterway {
            id: WaterwayId::new(id),
            class: "x".into(),
            lawful: true,
            chains: vec![(0..rows.len()).map(|row| frame.cell(col, row)).collect()],
            shares: vec![],
            waters: Vec::new(),
            is_lake: false,
        };
        let waterways = vec![creek("W", 0), creek("E", rows[0].len() - 1)];
        let ground = Raster { frame, values: rows.concat() };
        let channels = waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect();
        let conditioned = condition(&ground, Conditioning { channels, ..Conditioning::default() }).unwrap();
        let parties = Parties::new(vec![Party::Parcel(ParcelIx(0)); frame.len()]);
        let setting = Setting::new(ground.into(), conditioned, parties.into(), 1, waterways.into(), TiVec::new());
        let destinations = Destinations::find(&setting);
        let shares = &shares(&setting, ShareLimits { fraction: 0.0, cells: 0.0 })[ParcelIx(0)];
        let of = |cell| {
            shares.position(|share| Some(share.destination) == destinations.of(cell)).map(|share| (ParcelIx(0), share))
        };
        let found = divide_heights(&setting, &destinations, of, |(_, share)| shares[share].leaving);
        let found: Vec<f64> = found.into_values().map(|height| (height * 1000.0).round() / 1000.0).collect();
        assert_eq!(found, expected, "{rows:?}");
    }

    #[test]
    fn the_crest_above_where_each_share_leaves() {
        check(&[&[0.0, 1.0, 2.0, 3.0, 1.0, 0.5]], &[3.0, 2.5]);
        check(&[&[0.0, 0.05, 0.1, 0.15, 0.1, 0.0]], &[0.15, 0.15]);
    }

    /// By hand: the divide lies between the second and third column, at 2.6, 1.6 and 0.2 m seen from the east, at 2.5, 1.5 and
    /// 0.2 m from the west; the shares leave at 0.0 and 0.4 m.
    #[test]
    fn a_divide_that_runs_down_a_slope_is_taken_at_half_its_height() {
        check(
            &[&[0.4, 2.5, 2.6, 2.5, 2.4, 0.4], &[0.2, 1.5, 1.6, 1.5, 1.4, 0.2], &[0.0, 0.1, 0.2, 0.1, 0.05, 0.0]],
            &[1.6, 1.1],
        );
    }
}
