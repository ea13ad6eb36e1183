//! Whose channel a cell is, where the lines of several waterways run through it.

use std::collections::BTreeMap;

use fallwright_terrain::Flow;
use fallwright_units::{Cell, CellMap, CellSet, Raster, WaterwayIx};
use typed_index_collections::TiSlice;

use crate::Waterway;

/// A waterway's chain through a cell, and where on the chain the cell is.
#[derive(Clone, Copy)]
struct Claim<'a> {
    waterway: WaterwayIx,
    chain: &'a [Cell],
    along: usize,
}

/// Gives each cell of chains to one waterway. Where several run through it, that is, in this order: one whose line leaves the
/// shared cells again rather than one that ends in them, since a stream ends where it joins another; the one along whose line
/// the water goes on; a lawful one; the one to which most land drains above the shared cells, then that of the lower cell there;
/// the first in the list. Cells in which waterways run together to the place where they all end belong to the one that goes on
/// from there.
///
/// `area` counts the cells draining through each. *Complexity*: O(c log c) for c cells of chains.
pub(crate) fn channel_owners(
    flow: &Flow,
    area: &Raster<u32>,
    waterways: &TiSlice<WaterwayIx, Waterway>,
) -> CellMap<WaterwayIx> {
    let mut owner = CellMap::new(area.frame.len());
    let mut shared = CellSet::new(area.frame.len());
    for (waterway, chain) in chains(waterways) {
        for &cell in chain {
            match owner.get(cell) {
                None => owner.insert(cell, waterway),
                Some(&other) if other != waterway => drop(shared.insert(cell)),
                Some(_) => {}
            }
        }
    }
    let mut claims: BTreeMap<Cell, Vec<Claim>> = BTreeMap::new();
    for (waterway, chain) in chains(waterways) {
        for (along, &cell) in chain.iter().enumerate().filter(|(_, cell)| shared.contains(**cell)) {
            claims.entry(cell).or_default().push(Claim { waterway, chain, along });
        }
    }
    for (&cell, claims) in &claims {
        let rank = |claim: &&Claim| {
            let (above, cells) = claim.above(&shared, area).unzip();
            let most_first = std::cmp::Reverse(cells.unwrap_or(0));
            let lawful = waterways[claim.waterway].lawful;
            (claim.ends_in(&shared), !claim.goes_on_with(flow), !lawful, most_first, above, claim.waterway)
        };
        let first = claims.iter().min_by_key(rank).expect("a shared cell has claims");
        owner.insert(cell, first.waterway);
    }
    for (&cell, claims) in &claims {
        let end = claims[0].end();
        let all_end = claims.iter().all(|claim| claim.ends_in(&shared) && claim.end() == end);
        let onward = owner.get(end).copied().filter(|on| claims.iter().all(|claim| claim.waterway != *on));
        if let Some(onward) = onward.filter(|_| all_end) {
            owner.insert(cell, onward);
        }
    }
    owner
}

fn chains(waterways: &TiSlice<WaterwayIx, Waterway>) -> impl Iterator<Item = (WaterwayIx, &[Cell])> {
    waterways
        .iter_enumerated()
        .flat_map(|(position, waterway)| waterway.chains.iter().map(move |chain| (position, chain.as_slice())))
}

impl Claim<'_> {
    fn end(&self) -> Cell {
        *self.chain.last().expect("a chain has cells")
    }

    /// Whether the line has cells of its own above, and none from here on.
    fn ends_in(&self, shared: &CellSet) -> bool {
        let own = |cells: &[Cell]| cells.iter().any(|&cell| !shared.contains(cell));
        own(&self.chain[..self.along]) && !own(&self.chain[self.along..])
    }

    fn goes_on_with(&self, flow: &Flow) -> bool {
        let next = self.chain.get(self.along + 1).copied();
        next.is_some() && next == flow.receiver(self.chain[self.along])
    }

    /// The last own cell above, and the cells draining through it.
    fn above(&self, shared: &CellSet, area: &Raster<u32>) -> Option<(Cell, u32)> {
        let own = self.chain[..self.along].iter().rfind(|&&cell| !shared.contains(cell))?;
        Some((*own, area[*own]))
    }
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Conditioning, accumulation_u32, condition};
    use fallwright_units::{Frame, WaterwayId};
    use typed_index_collections::TiVec;

    use super::*;

    /// Cells of a chain as pairs of column and row.
    type Chain<'a> = &'a [(usize, usize)];

    /// Ground falls to the east and to the lower row. Expected is whose channel each cell is, row by row, by the number of the
    /// waterway, and a point for none, in whatever order they are given.
    fn check(given: &[(bool, Chain)], expected: [&str; 3]) {
        let frame = Frame::new(6, 3, (0.0, 0.0), (1.0, 1.0)).unwrap();
        let orders: [Vec<usize>; 2] = [(0..given.len()).collect(), (0..given.len()).rev().collect()];
        for order in orders {
            let waterway = |&number: &usize| Waterway {
                id: WaterwayId::new(number.to_string()),
                class: "x".into(),
                lawful: given[number].0,
                chains: vec![given[number].1.iter().map(|&(col, row)| frame.cell(col, row)).collect()],
                shares: Vec::new(),
                waters: Vec::new(),
                is_lake: false,
            };
            let waterways: TiVec<WaterwayIx, Waterway> = order.iter().map(waterway).collect();
            let level = |cell: usize| 20.0 - (cell % 6) as f32 - 2.0 * (cell / 6) as f32;
            let ground = Raster { frame, values: (0..18).map(level).collect() };
            let channels = waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect();
            let flow = condition(&ground, Conditioning { channels, ..Conditioning::default() }).unwrap().flow;
            let owner = channel_owners(&flow, &accumulation_u32(&flow), &waterways);
            let found = |cell| owner.get(cell).map_or(".", |&position| waterways[position].id.as_str());
            let rows = [0, 1, 2].map(|row| (0..6).map(|col| found(frame.cell(col, row))).collect::<String>());
            assert_eq!(rows, expected, "{order:?}");
        }
    }

    const RIVER: Chain = &[(0, 2), (1, 2), (2, 2), (3, 2), (4, 2), (5, 2)];

    #[test]
    fn a_stream_ends_where_it_joins_another() {
        let joins: Chain = &[(0, 1), (1, 1), (2, 2)];
        check(&[(true, RIVER), (true, joins)], ["......", "11....", "000000"]);
        // Its last cells lie in those of the river, whether that is a lawful outlet or not.
        let runs_along: Chain = &[(0, 1), (1, 1), (2, 2), (3, 2), (4, 2)];
        check(&[(true, RIVER), (true, runs_along)], ["......", "11....", "000000"]);
        check(&[(false, RIVER), (true, runs_along)], ["......", "11....", "000000"]);
    }

    #[test]
    fn a_line_without_cells_of_its_own_keeps_the_shared_ones_where_it_is_lawful() {
        check(&[(false, RIVER), (true, &RIVER[2..5])], ["......", "......", "001100"]);
        check(&[(true, RIVER), (false, &RIVER[2..5])], ["......", "......", "000000"]);
    }

    #[test]
    fn cells_in_which_streams_run_together_to_their_end_belong_to_the_one_that_goes_on() {
        let upper: Chain = &[(0, 0), (1, 1), (2, 2), (3, 2)];
        let beside: Chain = &[(0, 2), (1, 2), (2, 2), (3, 2)];
        let onward: Chain = &[(3, 2), (4, 2), (5, 2)];
        check(&[(true, upper), (true, beside), (true, onward)], ["0.....", ".0....", "112222"]);
        // Nothing goes on: the one to which more land drains.
        check(&[(true, upper), (true, beside)], ["0.....", ".0....", "1100.."]);
    }

    #[test]
    fn lines_that_cross_keep_the_water_where_it_goes_on() {
        let across: Chain = &[(2, 0), (2, 1), (3, 2), (4, 1), (5, 1)];
        check(&[(true, RIVER), (true, across)], ["..1...", "..1.11", "000000"]);
    }
}
