//! Where two waterways meet, their lines share a few cells, and the water takes the lowest of them.

use std::collections::BTreeMap;

use fallwright_terrain::Flow;
use fallwright_units::{Cell, CellMap, Raster, WaterwayIx};

/// A branch this short, or so few cells of one waterway in the course of another, are a corner that the flow cuts (our
/// choice).
pub(crate) const CORNER_CELLS: usize = 3;

/// Gives the cells in which a waterway's water runs through a corner of another one, and back into its own channel, to
/// the waterway that runs through. `owner` holds whose channel a cell is; `area` counts the cells draining through each.
/// Water that a structure carries leaves its channel: it runs through no corner.
///
/// Without this a creek would be taken to run through the drain that empties into it: the drain would have the creek's
/// watershed, and everybody upstream would meet the drain.
///
/// *Complexity*: O(c log c) for c channel cells.
pub(crate) fn give_corners(flow: &Flow, area: &Raster<u32>, owner: &mut CellMap<WaterwayIx>) {
    let mut channel: Vec<Cell> = owner.cells().collect();
    channel.sort_unstable_by_key(|&cell| (area[cell], cell));
    let main_donor: BTreeMap<Cell, Cell> =
        channel.iter().filter_map(|&cell| Some((flow.receiver(cell)?, cell))).collect();
    let is_carried = |&cell: &Cell| flow.links.is_inlet(cell);
    for cell in channel {
        let Some(donor) = main_donor.get(&cell).filter(|donor| !is_carried(donor)) else { continue };
        let (Some(&through), Some(&own)) = (owner.get(*donor), owner.get(cell)) else { continue };
        let corner: Vec<Cell> =
            flow.path(cell).take_while(|&on| owner.get(on) == Some(&own)).take(CORNER_CELLS + 1).collect();
        let next = corner.last().and_then(|&last| flow.receiver(last));
        let is_corner = corner.len() <= CORNER_CELLS && !corner.iter().any(is_carried);
        if through != own && is_corner && next.is_some_and(|next| owner.get(next) == Some(&through)) {
            for on in corner {
                owner.insert(on, through);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Link, Links, accumulation_u32, direction};
    use fallwright_units::Frame;

    use super::*;

    /// Water runs east along the lower row; every cell of the upper row drains into the one south of it.
    /// Owners before and after, row by row, as digits.
    fn check(before: [&str; 2], after: [&str; 2]) {
        check_linked(&[], before, after);
    }

    /// The same with structures, each from a column of the lower row to another.
    fn check_linked(structures: &[(usize, usize)], before: [&str; 2], after: [&str; 2]) {
        let frame = Frame::new(6, 2, (0.0, 0.0), (1.0, 1.0)).unwrap();
        // 2 is east, 4 south, 0 the end.
        let mut direction = Raster { frame, values: vec![4, 4, 4, 4, 4, 4, 2, 2, 2, 2, 2, 0] };
        let link = |&(inlet, outlet)| Link { inlet: frame.cell(inlet, 1), outlet: frame.cell(outlet, 1) };
        let links: Vec<Link> = structures.iter().map(link).collect();
        for link in &links {
            direction[link.inlet] = direction::CARRIED;
        }
        let flow = Flow { direction, links: Links::new(&links).unwrap() };
        let owners = |rows: [&str; 2]| {
            let mut owner = CellMap::new(frame.len());
            for (cell, digit) in rows.concat().bytes().enumerate().filter(|&(_, digit)| digit != b'0') {
                owner.insert(Cell(cell), WaterwayIx(digit.into()));
            }
            owner
        };
        let mut owner = owners(before);
        give_corners(&flow, &accumulation_u32(&flow), &mut owner);
        assert_eq!(owner, owners(after));
    }

    #[test]
    fn a_creek_keeps_its_cells_where_a_drain_meets_it() {
        check(["000200", "111211"], ["000200", "111111"]);
        check(["000200", "112221"], ["000200", "111111"]);
    }

    #[test]
    fn water_that_a_structure_carries_runs_through_no_corner() {
        // Into the other waterway's cells, out of them, and between them.
        check_linked(&[(1, 2)], ["000000", "112211"], ["000000", "112211"]);
        check_linked(&[(3, 4)], ["000000", "112211"], ["000000", "112211"]);
        check_linked(&[(2, 3)], ["000000", "112211"], ["000000", "112211"]);
        // Farther up and farther down.
        check_linked(&[(0, 1), (4, 5)], ["000000", "112211"], ["000000", "111111"]);
    }

    #[test]
    fn a_long_stretch_of_another_waterway_is_no_corner() {
        check(["000000", "122221"], ["000000", "122221"]);
    }

    #[test]
    fn a_waterway_that_goes_over_into_another_stays_as_it_is() {
        check(["000000", "111222"], ["000000", "111222"]);
        check(["000100", "222222"], ["000100", "222222"]);
    }
}
