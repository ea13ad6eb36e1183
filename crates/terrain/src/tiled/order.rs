//! The cells of a tile in the order of the flow.

use super::patch::Patch;
use super::routes::receiver_offsets;
use crate::direction;

/// Every cell of a tile before the one that its water goes to.
#[derive(Debug, Default)]
pub(crate) struct FlowOrder {
    donors: Patch<u8>,
    cells: Vec<u32>,
    length: usize,
}

impl FlowOrder {
    /// Finds the order, and yields the step from each cell to the next after all steps to the cell; the last one of a route
    /// may lie in the margin. Positions are those in the patch, which holds no direction in its margin.
    ///
    /// *Complexity*: O(n) for n cells.
    ///
    /// *References*: A. B. Kahn (1962), Topological sorting of large networks, Communications of the ACM 5, 558–562.
    pub(crate) fn find(&mut self, code: &Patch<u8>, mut step: impl FnMut(usize, usize)) {
        let offsets = receiver_offsets(code);
        count_donors(code, &mut self.donors);
        self.cells.resize(code.values.len() + 1, 0);
        let (codes, donors, cells) = (&code.values[..], &mut self.donors.values[..], &mut self.cells[..]);
        let (mut done, mut length) = (0, 0);
        // Cells are noted whether they are due or not, and written over if not: no branch that cannot be foreseen.
        for row in 0..code.rows {
            for head in code.row(row) {
                cells[length] = head as u32;
                length += usize::from(donors[head] == 0);
            }
        }
        while done < length {
            let cell = cells[done] as usize;
            done += 1;
            let offset = offsets[usize::from(codes[cell])];
            if offset == 0 {
                continue;
            }
            let next = cell.wrapping_add_signed(offset);
            step(cell, next);
            let left = donors[next].wrapping_sub(1);
            donors[next] = left;
            cells[length] = next as u32;
            length += usize::from(left == 0);
        }
        self.length = length;
    }

    /// The cells from the last found order.
    pub(crate) fn cells(&self) -> &[u32] {
        &self.cells[..self.length]
    }
}

/// Counts for each cell the neighbours in the tile whose water comes to it.
fn count_donors(code: &Patch<u8>, donors: &mut Patch<u8>) {
    donors.surround(code.cols, code.rows, 0);
    for row in 0..code.rows {
        let around = code.lines_around(row);
        for (col, donors) in donors.values[code.row(row)].iter_mut().enumerate() {
            let comes =
                |position: usize| u8::from(around[position][col] == direction::of_neighbour((position + 4) % 8));
            *donors = (0..8).map(comes).sum();
        }
    }
}
