//! Flow accumulation.

use fallwright_units::{Cell, Raster};

use crate::flow::Flow;

/// The number of cells that drain through each cell, itself included; 0 where there is no data.
///
/// Cells are taken in topological order: a cell is passed on when all that drains into it has arrived. Exact integers, so
/// the counts at the cells where water ends sum to the number of cells with data.
///
/// *Complexity*: O(n) for n cells.
pub fn accumulation(flow: &Flow) -> Raster<u64> {
    let frame = flow.direction.frame;
    let mut donors = vec![0_u32; frame.len()];
    let mut count = Raster::filled(frame, 0_u64);
    for cell in (0..frame.len()).map(Cell).filter(|&cell| flow.has_data(cell)) {
        count[cell] = 1;
        if let Some(next) = flow.receiver(cell) {
            donors[next.0] += 1;
        }
    }
    let heads: Vec<Cell> = (0..frame.len()).map(Cell).filter(|&c| flow.has_data(c) && donors[c.0] == 0).collect();
    for head in heads {
        let mut cell = head;
        while let Some(next) = flow.receiver(cell) {
            count[next] += count[cell];
            donors[next.0] -= 1;
            if donors[next.0] > 0 {
                break;
            }
            cell = next;
        }
    }
    count
}
