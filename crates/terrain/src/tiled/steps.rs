//! Steps over flats: a breadth-first search, 64 cells at once.
//!
//! Two flat cells side by side are at one level, since neither is lower than the other: flats of different levels never
//! touch, and all flats of a tile are searched together.

use super::bits::{Bits, beyond, grown};

/// Not reached.
pub(crate) const UNREACHED: u32 = 0;
/// Steps of a flat cell beside the low edge, which itself has one.
pub(crate) const BESIDE_LOW_EDGE: u32 = 2;
/// Steps of a flat cell beside higher ground.
pub(crate) const BESIDE_HIGHER: u32 = 1;

/// A search over the flats of one tile.
#[derive(Debug, Default)]
pub(crate) struct Steps {
    pub(crate) unreached: Bits,
    /// The last two binary digits of the steps of each cell that is reached: neighbours are at most one step apart, so that
    /// these say which is farther.
    pub(crate) digits: [Bits; 2],
    front: Front,
    next: Front,
}

/// Cells with the same steps; none between two searches.
#[derive(Debug, Default)]
struct Front {
    cells: Bits,
    /// The positions of the words that are not empty.
    words: Vec<usize>,
}

impl Front {
    fn add(&mut self, word: usize, cells: u64) {
        if self.cells.words[word] == 0 {
            self.words.push(word);
        }
        self.cells.words[word] |= cells;
    }
}

/// Which cells are asked for, and what receives their positions in the patch and their steps.
pub(crate) struct Asked<'a, T> {
    pub(crate) cells: &'a Bits,
    pub(crate) report: T,
}

impl Steps {
    /// Begins a search of some cells.
    pub(crate) fn begin(&mut self, cells: &Bits) {
        self.unreached.copy(cells);
        for bits in self.digits.iter_mut().chain([&mut self.front.cells, &mut self.next.cells]) {
            bits.clear_like(cells);
        }
    }

    /// Begins at all cells of a set.
    pub(crate) fn begin_at(&mut self, nearest: &Bits) {
        for (word, cells) in nearest.filled() {
            self.unreached.words[word] &= !cells;
            self.front.add(word, cells);
        }
    }

    /// Begins at a cell, if it is searched.
    pub(crate) fn begin_at_cell(&mut self, cell: usize) {
        if let Some((word, cell)) = self.unreached.remove(cell) {
            self.front.add(word, cell);
        }
    }

    /// Spreads from where the search began, with so many steps there, and from the `later` cells with theirs.
    pub(crate) fn spread(&mut self, first: u32, later: &mut [(u32, usize)], mut asked: Asked<impl FnMut(usize, u32)>) {
        later.sort_unstable();
        let mut later = later.iter().peekable();
        let mut steps = first;
        loop {
            while let Some(&(_, cell)) = later.next_if(|later| later.0 <= steps) {
                self.begin_at_cell(cell);
            }
            if !self.front.words.is_empty() {
                self.step(steps, &mut asked);
                steps += 1;
            } else if let Some(&&(next, _)) = later.peek() {
                steps = next;
            } else {
                break;
            }
        }
    }

    /// Goes from all cells of the front to those around them.
    fn step(&mut self, steps: u32, asked: &mut Asked<impl FnMut(usize, u32)>) {
        let Self { unreached, digits, front, next } = self;
        for word in front.words.drain(..) {
            let cells = std::mem::take(&mut front.cells.words[word]);
            for (digit, bits) in digits.iter_mut().enumerate() {
                if steps >> digit & 1 == 1 {
                    bits.words[word] |= cells;
                }
            }
            let wanted = cells & asked.cells.words[word];
            if wanted != 0 {
                unreached.cells_in(word, wanted).for_each(|cell| (asked.report)(cell, steps));
            }
            let mut reach = |word: usize, cells: u64| {
                let reached = unreached.words[word] & cells;
                if reached != 0 {
                    unreached.words[word] ^= reached;
                    next.add(word, reached);
                }
            };
            reach(word, grown(cells));
            beyond(word, asked.cells.across, cells, reach);
        }
        std::mem::swap(front, next);
    }

    /// Gives some cells the same steps as their neighbours among them.
    pub(crate) fn leave_out(&mut self, cells: &Bits) {
        for bits in &mut self.digits {
            for (digit, cells) in bits.words.iter_mut().zip(&cells.words) {
                *digit &= !cells;
            }
        }
    }

    /// Takes in everything that touches where the search began, steps left aside.
    pub(crate) fn flood(&mut self) {
        let Self { unreached, front, .. } = self;
        while let Some(word) = front.words.pop() {
            let mut cells = std::mem::take(&mut front.cells.words[word]);
            loop {
                let more = grown(cells) & unreached.words[word];
                if more == 0 {
                    break;
                }
                unreached.words[word] ^= more;
                cells |= more;
            }
            beyond(word, unreached.across, cells, |word, cells| {
                let reached = unreached.words[word] & cells;
                if reached != 0 {
                    unreached.words[word] ^= reached;
                    front.add(word, reached);
                }
            });
        }
    }
}
