//! What each kept depression holds, where one lies in another: every cell and every cubic metre counted once.

use std::collections::BTreeSet;

use fallwright_units::{Cell, CellMap, Frame, Raster};

use crate::cut_search::{Storage, storage};
use crate::link::Links;

/// The water of a kept depression, without that of depressions inside it.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptPool {
    /// Where its water ends.
    pub sink: Cell,
    /// Level at which it spills, metres.
    pub level_m: f64,
    /// Cells under its water and under no other that lies in it.
    pub cells: Vec<Cell>,
    /// Σ depth of its water, metres: over `cells`, and over the depressions inside it only what stands above their levels.
    pub fill_m: f64,
}

/// The pools of kept depressions, in the order of their `sinks`; those whose water never reaches lower ground have none.
/// Over all pools cells and depths add up to those of the land under water.
///
/// *Units*: `surface` in metres. *Complexity*: O(k log k) in the cells of all depressions, each with what lies inside it.
pub fn kept_pools(surface: &Raster<f32>, links: &Links, sinks: &[Cell]) -> Vec<KeptPool> {
    let stored = |&sink: &Cell| Some((sink, storage(surface, links, sinks, sink)?));
    let stored: Vec<(Cell, Storage)> = sinks.iter().filter_map(stored).collect();
    let mut lowest_first: Vec<usize> = (0..stored.len()).collect();
    lowest_first.sort_by(|&a, &b| stored[a].1.level_m.total_cmp(&stored[b].1.level_m));
    let mut counted_to = CellMap::new(surface.frame.len());
    let mut pools: Vec<Option<KeptPool>> = vec![None; stored.len()];
    for position in lowest_first {
        let (sink, storage) = &stored[position];
        pools[position] = Some(without_counted(surface, *sink, storage, &mut counted_to));
    }
    pools.into_iter().flatten().collect()
}

/// `counted_to` holds the level up to which water was counted so far.
fn without_counted(surface: &Raster<f32>, sink: Cell, storage: &Storage, counted_to: &mut CellMap<f64>) -> KeptPool {
    let mut pool = KeptPool { sink, level_m: storage.level_m, cells: Vec::new(), fill_m: 0.0 };
    for cell in connected(&surface.frame, &storage.cells, sink) {
        if let Some(level) = counted_to.get_mut(cell) {
            pool.fill_m += storage.level_m - *level;
            *level = storage.level_m;
        } else {
            pool.fill_m += storage.level_m - f64::from(surface[cell]);
            pool.cells.push(cell);
            counted_to.insert(cell, storage.level_m);
        }
    }
    pool
}

/// Those of some cells that are connected with the sink: a pool that only touches another one at its level is not part of it.
fn connected(frame: &Frame, cells: &[Cell], sink: Cell) -> Vec<Cell> {
    let mut open: BTreeSet<Cell> = cells.iter().copied().collect();
    let mut found: Vec<Cell> = open.take(&sink).into_iter().collect();
    let mut next_unvisited = 0;
    while let Some(&cell) = found.get(next_unvisited) {
        next_unvisited += 1;
        found.extend(frame.neighbours(cell).map(|(_, next)| next).filter(|next| open.remove(next)));
    }
    found
}

#[cfg(test)]
mod tests {
    use fallwright_units::Frame;

    use super::*;

    /// One row of cells of one square metre. Expected, by hand: of each pool its level, its columns and Σ depth.
    fn check(ground: &[f32], sinks: &[usize], expected: &[(f64, &[usize], f64)]) {
        let frame = Frame::new(ground.len(), 1, (0.0, 1.0), (1.0, 1.0)).unwrap();
        // Rows of high ground on both sides: the edge beside the row is no outlet.
        let rows = Frame::new(ground.len(), 3, (0.0, 3.0), (1.0, 1.0)).unwrap();
        let bank = vec![99.0; frame.len()];
        let surface = Raster { frame: rows, values: [&bank[..], ground, &bank[..]].concat() };
        let cell = |&col: &usize| rows.cell(col, 1);
        let sinks: Vec<Cell> = sinks.iter().map(cell).collect();
        let pools = kept_pools(&surface, &Links::default(), &sinks);
        assert_eq!(pools.len(), expected.len());
        for (pool, &(level_m, cols, fill_m)) in pools.iter().zip(expected) {
            let mut cells = pool.cells.clone();
            cells.sort_unstable();
            assert_eq!((pool.level_m, pool.fill_m), (level_m, fill_m), "{pool:?}");
            assert_eq!(cells, cols.iter().map(cell).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_depression_alone_holds_all_its_water() {
        check(&[9.0, 8.0, 2.0, 5.0, 6.0, 1.0], &[2], &[(6.0, &[2, 3], 5.0)]);
    }

    #[test]
    fn depressions_side_by_side_share_nothing() {
        check(&[9.0, 2.0, 6.0, 1.0, 0.0], &[1], &[(6.0, &[1], 4.0)]);
        check(&[9.0, 3.0, 6.0, 2.0, 4.0, 1.0], &[1, 3], &[(6.0, &[1], 3.0), (4.0, &[3], 2.0)]);
    }

    /// The whole holds 5 + 3 + 1 + 4 = 13 up to 6 m, of which the hollow at column 4 takes 3 up to 5 m.
    #[test]
    fn nested_depressions_count_land_and_water_once() {
        check(&[9.0, 1.0, 3.0, 5.0, 2.0, 6.0, 0.0], &[1, 4], &[(6.0, &[1, 2, 3], 10.0), (5.0, &[4], 3.0)]);
        check(&[9.0, 1.0, 3.0, 5.0, 2.0, 6.0, 0.0], &[4, 1], &[(5.0, &[4], 3.0), (6.0, &[1, 2, 3], 10.0)]);
    }

    /// Both spill at 5 m, over the ground between them and beyond.
    #[test]
    fn pools_that_touch_at_one_level_are_two() {
        check(&[9.0, 2.0, 5.0, 3.0, 5.0, 0.0], &[1, 3], &[(5.0, &[1], 3.0), (5.0, &[3], 2.0)]);
        check(&[9.0, 2.0, 5.0, 2.0, 5.0, 0.0], &[3, 1], &[(5.0, &[3], 3.0), (5.0, &[1], 3.0)]);
    }

    /// Of two hollows of one depth the first has the water above the saddle between them.
    #[test]
    fn hollows_of_one_depth_are_two() {
        check(&[9.0, 2.0, 5.0, 2.0, 6.0, 0.0], &[1, 3], &[(6.0, &[1, 2], 6.0), (5.0, &[3], 3.0)]);
    }
}
