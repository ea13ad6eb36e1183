//! Labels of cells that seldom change from one cell to the next.

use std::ops::Index;

use crate::Cell;

/// A label for every cell of a raster, held as runs of cells with the same label: a sixteenth of a byte a cell, and 8 bytes
/// a run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LabelRuns {
    /// First cell of each run, and its label.
    starts: Vec<u32>,
    labels: Vec<u32>,
    /// For every [`BLOCK`] of cells the run that holds the first of them.
    run_of_block: Vec<u32>,
    cells: usize,
}

/// Cells between two whose run is known at once: as many runs at most are looked at to find that of a cell.
const BLOCK: usize = 64;

impl LabelRuns {
    /// The labels of all cells, in the order of their index.
    ///
    /// # Panics
    /// More cells than 32 bits count.
    pub fn new(labels: impl IntoIterator<Item = u32>) -> Self {
        let mut runs = Self::default();
        for label in labels {
            if runs.labels.last() != Some(&label) {
                runs.starts.push(u32::try_from(runs.cells).expect("the frame has more cells than 32 bits count"));
                runs.labels.push(label);
            }
            if runs.cells.is_multiple_of(BLOCK) {
                runs.run_of_block.push(runs.starts.len() as u32 - 1);
            }
            runs.cells += 1;
        }
        runs
    }

    /// Number of cells.
    pub const fn len(&self) -> usize {
        self.cells
    }

    pub const fn is_empty(&self) -> bool {
        self.cells == 0
    }

    /// Each run's label and number of cells.
    pub fn runs(&self) -> impl Iterator<Item = (u32, usize)> + '_ {
        let ends = self.starts.iter().skip(1).map(|&start| start as usize).chain([self.cells]);
        let lengths = self.starts.iter().zip(ends).map(|(&start, end)| end - start as usize);
        self.labels.iter().copied().zip(lengths)
    }
}

impl Index<Cell> for LabelRuns {
    type Output = u32;

    #[inline]
    fn index(&self, cell: Cell) -> &u32 {
        let first = self.run_of_block[cell.0 / BLOCK] as usize;
        let further = self.starts[first + 1..].iter().take_while(|&&start| start as usize <= cell.0).count();
        &self.labels[first + further]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(labels: &[u32], runs: usize) {
        let held = LabelRuns::new(labels.iter().copied());
        let found: Vec<u32> = (0..labels.len()).map(|cell| held[Cell(cell)]).collect();
        assert_eq!(found, labels);
        assert_eq!(held.runs().count(), runs);
        assert_eq!(held.runs().map(|(_, cells)| cells).sum::<usize>(), held.len());
    }

    #[test]
    fn every_cell_has_the_label_that_was_given() {
        check(&[], 0);
        check(&[7], 1);
        check(&[0, 0, 1, 1, 1, 0], 3);
        check(&[5; 200], 1);
        check(&(0..200).collect::<Vec<_>>(), 200);
        check(&[vec![1; 63], vec![2; 1], vec![3; 64], vec![0; 2]].concat(), 4);
    }
}
