//! Mapped open channels enforced on the surface.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Raster};

/// How far below the lowest ground beside it a mapped channel's bed is taken to lie (our choice, no source): enough to
/// keep water in the channel on ground recorded to the centimetre.
pub const CHANNEL_INCISION_M: f32 = 0.1;

/// Bed levels along mapped channels such that water follows each line downstream.
///
/// Each channel cell starts [`CHANNEL_INCISION_M`] below the lowest ground of itself and its neighbours; the bed then
/// falls monotonically: no cell is higher than any channel cell upstream of it. Lines given as consecutive cells, drawn
/// downstream; lines that share a cell join there. The answer is the one greatest surface with these properties, so the
/// order of lines cannot matter, and a loop is level.
///
/// *Units*: metres. Only cells with data are edited; the returned levels never exceed the ground.
///
/// *Complexity*: O(c log c) for c channel cells.
pub fn channel_bed(ground: &Raster<f32>, lines: &[Vec<Cell>]) -> BTreeMap<Cell, f32> {
    let mut downstream: BTreeMap<Cell, BTreeSet<Cell>> = BTreeMap::new();
    for line in lines {
        let with_data: Vec<Cell> = line.iter().copied().filter(|&cell| !ground[cell].is_nan()).collect();
        for &cell in &with_data {
            downstream.entry(cell).or_default();
        }
        for pair in with_data.windows(2) {
            downstream.entry(pair[0]).or_default().insert(pair[1]);
        }
    }
    let mut start: Vec<(f32, Cell)> = downstream.keys().map(|&cell| (incised(ground, cell), cell)).collect();
    start.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut bed = BTreeMap::new();
    for (level, cell) in start {
        let mut open = vec![cell];
        while let Some(cell) = open.pop() {
            if bed.contains_key(&cell) {
                continue;
            }
            bed.insert(cell, level);
            open.extend(&downstream[&cell]);
        }
    }
    bed
}

fn incised(ground: &Raster<f32>, cell: Cell) -> f32 {
    let beside = ground.frame.neighbours(cell).map(|(_, next)| ground[next]);
    // `f32::min` passes over missing data (NaN).
    beside.fold(ground[cell], f32::min) - CHANNEL_INCISION_M
}
