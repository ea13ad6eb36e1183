//! Steps over flats: a breadth-first search from their low edges, and one from the higher ground beside them.

use serde::{Deserialize, Serialize};

use super::patch::Patch;
use crate::direction;

/// Not reached.
pub(crate) const UNREACHED: u32 = 0;
/// What the steps of cells hold that are not searched.
pub(crate) const WALL: u32 = u32::MAX;
/// Steps of a flat cell beside the low edge, which itself has one.
pub(crate) const BESIDE_LOW_EDGE: u32 = 2;
/// Steps of a flat cell beside higher ground.
pub(crate) const BESIDE_HIGHER: u32 = 1;

/// Flat cells side by side in one row: positions in the patch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Run {
    pub start: u32,
    pub end: u32,
}

impl Run {
    pub(crate) fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// What holds for the whole of a flat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Whole {
    /// Most steps away from higher ground.
    pub(crate) farthest: u32,
    /// Whether a structure under backwater takes in water beside it, so that the gradient away from higher ground is left
    /// out.
    pub(crate) beside_inlet: bool,
}

/// Steps of the cells that are searched; [`WALL`] everywhere between two searches, so that only what was searched has to
/// be cleared.
#[derive(Debug, Default)]
pub(crate) struct Steps {
    pub(crate) toward: Patch<u32>,
    /// Once masked, the masks.
    pub(crate) away: Patch<u32>,
    queue: Vec<u32>,
}

/// Where a search begins: cells that all have the same steps, and cells with more.
pub(crate) struct Sources<'a, I> {
    pub(crate) nearest: I,
    pub(crate) later: &'a mut [(u32, u32)],
}

impl Steps {
    pub(crate) fn begin(&mut self, cols: usize, rows: usize, runs: &[Run]) {
        self.toward.fit(cols, rows, WALL);
        self.away.fit(cols, rows, WALL);
        for run in runs {
            self.toward.values[run.range()].fill(UNREACHED);
            self.away.values[run.range()].fill(UNREACHED);
        }
    }

    pub(crate) fn end(&mut self, runs: &[Run]) {
        for run in runs {
            self.toward.values[run.range()].fill(WALL);
            self.away.values[run.range()].fill(WALL);
        }
    }

    pub(crate) fn search_toward(&mut self, from: Sources<impl Iterator<Item = u32>>) {
        spread(&mut self.toward, &mut self.queue, BESIDE_LOW_EDGE, from);
    }

    pub(crate) fn search_away(&mut self, from: Sources<impl Iterator<Item = u32>>) {
        spread(&mut self.away, &mut self.queue, BESIDE_HIGHER, from);
    }

    /// Most steps away from higher ground of some cells.
    pub(crate) fn farthest(&self, run: Run) -> u32 {
        self.away.values[run.range()].iter().copied().max().unwrap_or(UNREACHED)
    }

    /// Puts masks in the place of the steps away from higher ground.
    pub(crate) fn mask(&mut self, run: Run, whole: Whole) {
        let steps = self.away.values[run.range()].iter_mut().zip(&self.toward.values[run.range()]);
        for (away, &toward) in steps {
            *away = mask_of(toward, *away, whole);
        }
    }

    /// The direction of the neighbour with the smallest mask, and that mask; ties go to the lowest code.
    pub(crate) fn lowest(&self, cell: usize) -> (u32, u8) {
        // One less, so that what is not reached has the most.
        let mut best = (WALL - 1, direction::ENDS);
        for (position, next) in self.away.around(cell).into_iter().enumerate() {
            let mask = self.away.values[next].wrapping_sub(1);
            let lower = mask < best.0;
            best = (if lower { mask } else { best.0 }, if lower { direction::of_neighbour(position) } else { best.1 });
        }
        (best.0 + 1, best.1)
    }
}

/// Twice the steps to the low edge plus how much nearer to higher ground a cell is than the flat's farthest one.
pub(crate) fn mask_of(toward: u32, away: u32, whole: Whole) -> u32 {
    2 * toward + if whole.beside_inlet { 0 } else { whole.farthest - away }
}

fn spread(steps: &mut Patch<u32>, queue: &mut Vec<u32>, first: u32, from: Sources<impl Iterator<Item = u32>>) {
    let offsets = steps.offsets();
    let steps = &mut steps.values[..];
    queue.clear();
    for cell in from.nearest {
        steps[cell as usize] = first;
        queue.push(cell);
    }
    from.later.sort_unstable();
    let mut later = from.later.iter().peekable();
    let mut next_queued = 0;
    loop {
        let queued = queue.get(next_queued).map(|&cell| (steps[cell as usize], cell));
        let cell = if let Some(&(count, cell)) = later.next_if(|later| queued.is_none_or(|queued| later.0 <= queued.0))
        {
            let known = &mut steps[cell as usize];
            if *known != UNREACHED && *known <= count {
                continue;
            }
            *known = count;
            cell as usize
        } else if let Some((_, cell)) = queued {
            next_queued += 1;
            cell as usize
        } else {
            break;
        };
        let count = steps[cell] + 1;
        for offset in offsets {
            let next = cell.wrapping_add_signed(offset);
            if steps[next] == UNREACHED {
                steps[next] = count;
                queue.push(next as u32);
            }
        }
    }
}
