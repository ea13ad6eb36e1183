//! Values for a few cells of a raster.

use std::collections::HashMap;

use crate::{Cell, CellSet};

/// Values for a few of a raster's cells, with a bit for each cell so that asking about one without a value is cheap.
///
/// Takes an eighth of a byte a cell, and some forty bytes a value.
#[derive(Clone, Debug, PartialEq)]
pub struct CellMap<T> {
    present: CellSet,
    values: HashMap<Cell, T>,
}

impl<T> CellMap<T> {
    /// For rasters of `cells` cells.
    pub fn new(cells: usize) -> Self {
        Self { present: CellSet::new(cells), values: HashMap::new() }
    }

    #[inline]
    pub fn get(&self, cell: Cell) -> Option<&T> {
        if self.contains(cell) { self.values.get(&cell) } else { None }
    }

    pub fn get_mut(&mut self, cell: Cell) -> Option<&mut T> {
        if self.contains(cell) { self.values.get_mut(&cell) } else { None }
    }

    #[inline]
    pub fn contains(&self, cell: Cell) -> bool {
        self.present.contains(cell)
    }

    /// Gives a cell a value, in place of any it has.
    pub fn insert(&mut self, cell: Cell, value: T) {
        self.present.insert(cell);
        self.values.insert(cell, value);
    }

    pub fn values_mut(&mut self) -> impl Iterator<Item = &mut T> {
        self.values.values_mut()
    }

    /// The cells that have a value, in the order of their index.
    pub fn cells(&self) -> impl Iterator<Item = Cell> + '_ {
        self.present.cells()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_in_order_and_keep_their_last_value() {
        let mut map = CellMap::new(200);
        for (cell, value) in [(130, 'a'), (0, 'b'), (63, 'c'), (64, 'd'), (130, 'e'), (199, 'f')] {
            map.insert(Cell(cell), value);
        }
        let found: Vec<(usize, char)> = map.cells().map(|cell| (cell.0, *map.get(cell).unwrap())).collect();
        assert_eq!(found, [(0, 'b'), (63, 'c'), (64, 'd'), (130, 'e'), (199, 'f')]);
        assert_eq!(map.get(Cell(1)), None);
        assert!(!map.contains(Cell(131)));
    }
}
