//! Mapped open channels enforced on the surface.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, TileSource, Window};

use crate::tiled::{value, with_margin};

/// How far below the lowest ground beside it a mapped channel's bed is taken to lie (our choice, no source): enough to
/// keep water in the channel on ground recorded to the centimetre.
pub const CHANNEL_INCISION_M: f32 = 0.1;

/// Bed levels along mapped channels such that water follows each line downstream.
///
/// Each channel cell starts at its surveyed bed level where there is one, and [`CHANNEL_INCISION_M`] below the lowest
/// ground of itself and its neighbours where there is none; the bed then falls monotonically: no cell is higher than any
/// channel cell upstream of it. A survey is believed before the estimate: above a surveyed level the incision is less where
/// else it would reach below that level. No bed lies above the ground or above the lowest bank beside it, so that
/// water stays in the channel. Lines given as consecutive cells, drawn downstream; lines that share a cell join there. The answer
/// is the one greatest surface with these properties, so the order of lines cannot matter, and a loop is level.
///
/// *Units*: metres. Only cells with data are edited; the returned levels never exceed the ground.
///
/// *Complexity*: O(c log c) for c channel cells.
///
/// # Errors
/// Failures of reading.
pub fn channel_bed<S: TileSource<f32>>(
    ground: &S,
    lines: &[Vec<Cell>],
    surveyed: &BTreeMap<Cell, f32>,
) -> Result<BTreeMap<Cell, f32>, S::Error> {
    let downstream = joined(ground, lines)?;
    let mut upstream: Joined = downstream.keys().map(|&cell| (cell, BTreeSet::new())).collect();
    for (&cell, next) in &downstream {
        for next in next {
            upstream.entry(*next).or_default().insert(cell);
        }
    }
    let is_bank = |cell: Cell| !downstream.contains_key(&cell);
    let in_banks = |cell: Cell, level: f32| Ok(level.min(lowest_beside(ground, cell, is_bank)?));
    let of_channel = surveyed.iter().filter(|&(&cell, _)| !is_bank(cell));
    let surveyed: BTreeMap<Cell, f32> =
        of_channel.map(|(&cell, &level)| Ok((cell, in_banks(cell, level)?))).collect::<Result<_, S::Error>>()?;
    let mut highest_first: Vec<(f32, Cell)> = surveyed.iter().map(|(&cell, &level)| (level, cell)).collect();
    highest_first.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let surveyed_below = spread(&upstream, highest_first);
    let start = |cell: Cell| {
        if let Some(&level) = surveyed.get(&cell) {
            return Ok(level);
        }
        let estimate = lowest_beside(ground, cell, |_| true)? - CHANNEL_INCISION_M;
        match surveyed_below.get(&cell) {
            Some(&below) if in_banks(cell, below)? == below => Ok(below.max(estimate)),
            _ => Ok(estimate),
        }
    };
    let starts = downstream.keys().map(|&cell| Ok((start(cell)?, cell)));
    let mut lowest_first: Vec<(f32, Cell)> = starts.collect::<Result<_, S::Error>>()?;
    lowest_first.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    Ok(spread(&downstream, lowest_first))
}

/// For each cell of a channel those that it is joined to.
type Joined = BTreeMap<Cell, BTreeSet<Cell>>;

fn joined<S: TileSource<f32>>(ground: &S, lines: &[Vec<Cell>]) -> Result<Joined, S::Error> {
    let mut downstream = Joined::new();
    for line in lines {
        let mut before = None;
        for &cell in line {
            if value(ground, cell)?.is_nan() {
                continue;
            }
            downstream.entry(cell).or_default();
            if let Some(before) = before.replace(cell) {
                downstream.entry(before).or_default().insert(cell);
            }
        }
    }
    Ok(downstream)
}

/// Gives each level to its cell and to all cells joined to that, unless an earlier level got there first.
fn spread(joined: &Joined, levels: Vec<(f32, Cell)>) -> BTreeMap<Cell, f32> {
    let mut reached = BTreeMap::new();
    for (level, cell) in levels {
        let mut open = vec![cell];
        while let Some(cell) = open.pop() {
            if reached.contains_key(&cell) {
                continue;
            }
            reached.insert(cell, level);
            open.extend(&joined[&cell]);
        }
    }
    reached
}

/// The lowest ground of a cell and of those of its neighbours that count.
fn lowest_beside<S: TileSource<f32>>(ground: &S, cell: Cell, counts: impl Fn(Cell) -> bool) -> Result<f32, S::Error> {
    const SIDE: usize = 3;
    let frame = ground.frame();
    let (col, row) = frame.col_row(cell);
    let window = with_margin(&frame, Window { col, row, cols: 1, rows: 1 });
    let mut around = [f32::NAN; SIDE * SIDE];
    ground.read(window, &mut around, SIDE)?;
    let at = |other: Cell| {
        let (col, row) = frame.col_row(other);
        around[(row - window.row) * SIDE + col - window.col]
    };
    let beside = frame.neighbours(cell).filter(|&(_, next)| counts(next)).map(|(_, next)| at(next));
    // `f32::min` passes over missing data (NaN).
    Ok(beside.fold(at(cell), f32::min))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tests::grid;

    /// Beds along the middle row of a valley, with levels surveyed at some columns; rounded to the centimetre.
    fn check(surveyed: &[(usize, f32)], expected: [f32; 6]) {
        let ground = grid(
            "9 9 9 9 9 9
             6 5 4 5 3 3
             9 9 9 9 9 9",
        );
        let line: Vec<Cell> = (0..6).map(|col| ground.frame.cell(col, 1)).collect();
        let surveyed = surveyed.iter().map(|&(col, level)| (line[col], level)).collect();
        let Ok(bed) = channel_bed(&ground, std::slice::from_ref(&line), &surveyed);
        let found: Vec<f32> = line.iter().map(|cell| (bed[cell] * 100.0).round() / 100.0).collect();
        assert_eq!(found, expected, "{surveyed:?}");
    }

    #[test]
    fn without_a_survey_the_bed_lies_below_the_lowest_ground_beside_it() {
        check(&[], [4.9, 3.9, 3.9, 2.9, 2.9, 2.9]);
    }

    #[test]
    fn a_surveyed_bed_is_taken_and_falls_downstream() {
        check(&[(1, 3.5), (2, 3.25)], [4.9, 3.5, 3.25, 2.9, 2.9, 2.9]);
        // A level that rises downstream is lowered to the one upstream.
        check(&[(1, 3.25), (2, 3.5)], [4.9, 3.25, 3.25, 2.9, 2.9, 2.9]);
    }

    #[test]
    fn a_survey_is_believed_before_the_estimate_upstream_of_it() {
        check(&[(3, 3.95)], [4.9, 3.95, 3.95, 3.95, 2.9, 2.9]);
        // But it lifts no bed above the ground.
        check(&[(5, 3.6)], [4.9, 3.9, 3.9, 3.0, 3.0, 3.0]);
    }
}
