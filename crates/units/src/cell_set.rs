//! Some of a raster's cells.

use crate::Cell;

/// Some of a raster's cells: a bit for each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellSet {
    words: Vec<u64>,
}

impl CellSet {
    /// None of the cells of a raster of `cells` cells.
    pub fn new(cells: usize) -> Self {
        Self { words: vec![0; cells.div_ceil(64)] }
    }

    #[inline]
    pub fn contains(&self, cell: Cell) -> bool {
        self.words[cell.0 / 64] >> (cell.0 % 64) & 1 == 1
    }

    /// Whether the cell was not in the set before.
    pub fn insert(&mut self, cell: Cell) -> bool {
        let (word, bit) = (&mut self.words[cell.0 / 64], 1 << (cell.0 % 64));
        let is_new = *word & bit == 0;
        *word |= bit;
        is_new
    }

    /// The cells in the order of their index.
    pub fn cells(&self) -> impl Iterator<Item = Cell> + '_ {
        self.words.iter().enumerate().filter(|(_, word)| **word != 0).flat_map(|(position, &word)| {
            (0..64).filter(move |bit| word >> bit & 1 == 1).map(move |bit| Cell(position * 64 + bit))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_in_order_each_once() {
        let mut set = CellSet::new(130);
        let is_new: Vec<bool> = [129, 0, 64, 63, 64].map(|cell| set.insert(Cell(cell))).to_vec();
        assert_eq!(is_new, [true, true, true, true, false]);
        assert_eq!(set.cells().collect::<Vec<_>>(), [0, 63, 64, 129].map(Cell));
        assert!(set.contains(Cell(63)) && !set.contains(Cell(1)));
    }
}
