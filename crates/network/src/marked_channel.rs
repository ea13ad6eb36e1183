//! Channels that the ground shows and no layer maps.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, NEIGHBOURS};

use crate::Setting;

/// When a course is marked enough that it may be a watercourse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChannelTest {
    /// Cells that must drain through it.
    pub cells: u64,
    /// How far both banks must stand above it, metres.
    pub depth_m: f64,
    /// How far from it a bank may be, metres.
    pub bank_distance_m: f64,
    /// How long it must go on, metres.
    pub length_m: f64,
}

/// Cells of marked channels, each with its depth below the lower bank, metres.
pub type MarkedChannels = BTreeMap<Cell, f64>;

/// Finds unmapped channels by the ground as surveyed: enough land drains through, both banks stand above, and it goes on
/// for long enough.
///
/// *Complexity*: O(cells with enough land draining through × cells to a bank).
pub fn marked_channels(setting: &Setting, test: ChannelTest) -> MarkedChannels {
    let marked: MarkedChannels = setting
        .parties
        .cells()
        .filter(|&cell| setting.area(cell) >= test.cells && setting.waterway_of(cell).is_none())
        .filter_map(|cell| Some((cell, depth_below_banks(setting, cell, test.bank_distance_m)?)))
        .filter(|&(_, depth)| depth >= test.depth_m)
        .collect();
    let long_enough = |stretch: &Vec<Cell>| stretch_length(setting, stretch) >= test.length_m;
    stretches(setting, &marked).into_iter().filter(long_enough).flatten().map(|cell| (cell, marked[&cell])).collect()
}

/// Height of the lower of the two banks above a cell, square to the direction of flow; `None` where water ends or is
/// carried by a structure.
fn depth_below_banks(setting: &Setting, cell: Cell, within_m: f64) -> Option<f64> {
    let (dc, dr) = fallwright_terrain::direction::step(setting.flow().direction[cell])?;
    let left = bank(setting, cell, (dr, -dc), within_m);
    let right = bank(setting, cell, (-dr, dc), within_m);
    Some(left.min(right) - f64::from(setting.ground[cell]))
}

fn bank(setting: &Setting, cell: Cell, step: (i32, i32), within_m: f64) -> f64 {
    debug_assert!(NEIGHBOURS.contains(&step));
    let frame = setting.frame();
    let mut highest = f64::NEG_INFINITY;
    let mut next = frame.step(cell, step);
    while let Some(here) = next.filter(|&here| frame.distance(cell, here) <= within_m) {
        // `f64::max` passes over missing data (NaN).
        highest = highest.max(f64::from(setting.ground[here]));
        next = frame.step(here, step);
    }
    highest
}

/// Marked cells that follow one another.
fn stretches(setting: &Setting, marked: &MarkedChannels) -> Vec<Vec<Cell>> {
    let mut seen = BTreeSet::new();
    let mut stretches = Vec::new();
    for &start in marked.keys() {
        let mut stretch = Vec::new();
        let mut open = vec![start];
        while let Some(cell) = open.pop() {
            if seen.insert(cell) {
                stretch.push(cell);
                open.extend(
                    setting.frame().neighbours(cell).map(|(_, next)| next).filter(|next| marked.contains_key(next)),
                );
            }
        }
        stretches.push(stretch);
    }
    stretches.retain(|stretch| !stretch.is_empty());
    stretches
}

/// Metres along the flow from cell to cell within a stretch.
fn stretch_length(setting: &Setting, stretch: &[Cell]) -> f64 {
    let within: BTreeSet<Cell> = stretch.iter().copied().collect();
    let step = |&cell: &Cell| {
        let next = setting.flow().receiver(cell).filter(|next| within.contains(next))?;
        Some(setting.frame().distance(cell, next))
    };
    stretch.iter().filter_map(step).sum()
}
