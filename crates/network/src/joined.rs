//! Paths that run together, followed once.

use std::collections::HashMap;

use fallwright_units::{Cell, CellSet};

/// The cells where paths come together: those that come from several cells of the paths, and those where a path begins on
/// another. `next` returns where a path goes on; `None` where it stops. Which path is looked at first makes no difference.
///
/// *Complexity*: O(cells on the paths, each once), and a quarter of a byte for each of the `cells` of the raster.
pub fn joins(cells: usize, starts: impl IntoIterator<Item = Cell>, next: impl Fn(Cell) -> Option<Cell>) -> CellSet {
    let (mut on_path, mut joins) = (CellSet::new(cells), CellSet::new(cells));
    for start in starts {
        let mut cell = start;
        loop {
            if !on_path.insert(cell) {
                joins.insert(cell);
                break;
            }
            match next(cell) {
                Some(next) => cell = next,
                None => break,
            }
        }
    }
    joins
}

/// Works out for each start what lies ahead on its path, from what lies ahead of the next cell: `ahead` is asked once for
/// every cell on the paths, however many run through it, and not before the cell that follows. `next` is as for [`joins`].
///
/// *Complexity*: O(cells on the paths, each once); what is known is kept where paths come together only.
pub fn known_ahead<T: Clone>(
    cells: usize,
    starts: &[Cell],
    next: impl Fn(Cell) -> Option<Cell>,
    mut ahead: impl FnMut(Cell, Option<(Cell, T)>) -> T,
) -> Vec<T> {
    let joins = joins(cells, starts.iter().copied(), &next);
    let mut known: HashMap<Cell, T> = HashMap::new();
    let mut walked = Vec::new();
    let mut from = |start: Cell| {
        let mut beyond = None;
        let mut cell = Some(start);
        while let Some(here) = cell {
            if let Some(known) = known.get(&here).filter(|_| joins.contains(here)) {
                beyond = Some((here, known.clone()));
                break;
            }
            walked.push(here);
            cell = next(here);
        }
        for cell in walked.drain(..).rev() {
            let found = ahead(cell, beyond);
            if joins.contains(cell) {
                known.insert(cell, found.clone());
            }
            beyond = Some((cell, found));
        }
        beyond.expect("a path has a cell").1
    };
    starts.iter().map(|&start| from(start)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Paths over numbered cells: `next[c]` follows c, the last one stops. By hand: cells from a start to the stop, and how
    /// often a cell was asked about.
    fn check(next: &[usize], starts: &[usize], lengths: &[usize], asked: usize) {
        let starts: Vec<Cell> = starts.iter().copied().map(Cell).collect();
        let next = |cell: Cell| Some(Cell(next[cell.0])).filter(|&next| next != cell);
        let mut count = 0;
        let found = known_ahead(16, &starts, next, |_, ahead: Option<(Cell, usize)>| {
            count += 1;
            ahead.map_or(1, |(_, length)| length + 1)
        });
        assert_eq!((found.as_slice(), count), (lengths, asked), "{starts:?}");
    }

    #[test]
    fn what_runs_together_is_asked_about_once() {
        let chain = [1, 2, 3, 4, 4];
        check(&chain, &[0], &[5], 5);
        check(&chain, &[0, 2], &[5, 3], 5);
        check(&chain, &[2, 0, 2, 4], &[3, 5, 3, 1], 5);
        // 0 and 5 join in 2, 6 in 4.
        let tree = [1, 2, 3, 4, 4, 2, 4];
        check(&tree, &[0, 5, 6], &[5, 4, 2], 7);
        check(&tree, &[6, 5, 1, 0], &[2, 4, 4, 5], 7);
    }
}
