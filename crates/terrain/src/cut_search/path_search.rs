//! The search for the path of least rise from a pit to lower ground.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use fallwright_units::TileSource;

use super::search::Search;
use super::squares::{FROM, REACHED, SETTLED, Spot};
use crate::cut::CutPath;

/// Ground no higher than this above the pit is the uneven bed before a barrier, not the barrier (our choice).
const UNEVENNESS_M: f64 = 0.1;

/// A search for the path of least rise over cells at most so far above the pit; its buffers serve one pit after another.
///
/// *References*: E. W. Dijkstra (1959), A note on two problems in connexion with graphs, Numerische Mathematik 1, 269–271.
#[derive(Default)]
pub(super) struct PathSearch {
    open: BinaryHeap<Label>,
}

impl PathSearch {
    pub(super) fn start(&mut self, pit: Spot) {
        self.open.clear();
        self.open.push(Label { rise_sum_m: 0.0, length_m: 0.0, barrier_m: 0.0, spot: pit, from: 0 });
    }

    /// The least rise of a path that is not found yet; `None` where there is none.
    pub(super) fn least_rise_sum_m(&self) -> Option<f64> {
        self.open.peek().map(|label| label.rise_sum_m)
    }

    /// Cells that await their turn.
    pub(super) fn open(&self) -> usize {
        self.open.len()
    }

    /// Looks at the cell reached by the least rise; the path there where it is lower ground. No path that rises by more than
    /// `most_m` in all is wanted.
    ///
    /// Ties go to the shorter path, then to the lower index of the cell and of the one before it.
    pub(super) fn advance<S: TileSource<f32>>(
        &mut self,
        search: &mut Search<S>,
        deepest_m: f64,
        most_m: f64,
    ) -> Result<Option<CutPath>, S::Error> {
        let Some(label) = self.open.pop() else { return Ok(None) };
        let spot = label.spot;
        let level = search.squares.level(spot)?;
        let (mark, _) = search.squares.known(spot);
        if *mark & SETTLED != 0 {
            return Ok(None);
        }
        *mark |= SETTLED | label.from;
        let around = search.squares.around(spot)?;
        if search.is_lower_ground(spot, level, &around)? {
            return path_to(search, &label).map(Some);
        }
        for (position, &level) in around.iter().enumerate() {
            let above = (f64::from(level) - f64::from(search.pit_level)).max(0.0);
            if level.is_nan() || above > deepest_m {
                continue;
            }
            let (next, step) = (spot.neighbour(position), search.distances_m[position]);
            let rise_sum_m = label.rise_sum_m + above;
            let (mark, least_m) = search.squares.known(next);
            if rise_sum_m > most_m || *mark & SETTLED != 0 || (*mark & REACHED != 0 && rise_sum_m > *least_m) {
                continue;
            }
            *mark |= REACHED;
            *least_m = rise_sum_m;
            self.open.push(Label {
                rise_sum_m,
                length_m: label.length_m + step,
                barrier_m: label.barrier_m + if above > UNEVENNESS_M { step } else { 0.0 },
                spot: next,
                from: position as u8,
            });
        }
        Ok(None)
    }
}

fn path_to<S: TileSource<f32>>(search: &mut Search<S>, end: &Label) -> Result<CutPath, S::Error> {
    let mut spots = vec![end.spot];
    let mut spot = end.spot;
    while spot != search.pit {
        search.squares.level(spot)?;
        let from = *search.squares.known(spot).0 & FROM;
        spot = spot.before(usize::from(from));
        spots.push(spot);
    }
    spots.reverse();
    let levels = spots.iter().map(|&spot| search.squares.level(spot)).collect::<Result<_, _>>()?;
    let path = spots.into_iter().map(|spot| search.cell(spot)).collect();
    Ok(CutPath { path, levels, rise_sum_m: end.rise_sum_m, length_m: end.length_m, barrier_m: end.barrier_m })
}

/// A reached cell; the heap's greatest is the one of least rise, then the shortest, then the one with the lower index.
#[derive(Clone, Copy, PartialEq)]
struct Label {
    rise_sum_m: f64,
    length_m: f64,
    barrier_m: f64,
    spot: Spot,
    /// Position of this cell among the neighbours of the one before it.
    from: u8,
}

impl Label {
    fn before(&self) -> Spot {
        self.spot.before(usize::from(self.from))
    }
}

impl Eq for Label {}

impl Ord for Label {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_rise = other.rise_sum_m.total_cmp(&self.rise_sum_m);
        let by_length = || other.length_m.total_cmp(&self.length_m);
        by_rise.then_with(by_length).then_with(|| (other.spot, other.before()).cmp(&(self.spot, self.before())))
    }
}

impl PartialOrd for Label {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
