//! How much land drains through some areas.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, CellSet};

use crate::{Setting, known_ahead};

/// The cells whose water runs through each of some areas, their own included. Each is counted once, however often its water
/// comes back. Areas may share cells.
///
/// All water that comes into an area leaves it, or ends in it, for the last time in one of its cells: the cells draining
/// through these are summed.
///
/// *Complexity*: O(cells of the areas, and of the ways down from them, each once), and for each place where water leaves an
/// area the places below it where water leaves one.
pub fn draining_through(setting: &Setting, areas: &[&[Cell]]) -> Vec<u64> {
    let flow = setting.flow();
    let exits: Vec<BTreeSet<Cell>> = areas.iter().map(|area| exits(setting, area)).collect();
    let all: Vec<Cell> = exits.iter().flatten().copied().collect();
    let mut is_exit = CellSet::new(setting.frame().len());
    for &exit in &all {
        is_exit.insert(exit);
    }
    let mut next_exit: BTreeMap<Cell, Option<Cell>> = BTreeMap::new();
    known_ahead(
        setting.frame().len(),
        &all,
        |cell| flow.receiver(cell),
        |cell, beyond| {
            let below = beyond.and_then(|(_, exit)| exit);
            if !is_exit.contains(cell) {
                return below;
            }
            next_exit.insert(cell, below);
            Some(cell)
        },
    );
    let comes_back = |exit: Cell, own: &BTreeSet<Cell>| {
        std::iter::successors(next_exit[&exit], |exit| next_exit[exit]).any(|below| own.contains(&below))
    };
    let through =
        |own: &BTreeSet<Cell>| own.iter().filter(|&&exit| !comes_back(exit, own)).map(|&exit| setting.area(exit)).sum();
    exits.iter().map(through).collect()
}

/// The cells of an area whose water goes on outside it or ends.
fn exits(setting: &Setting, area: &[Cell]) -> BTreeSet<Cell> {
    let within: BTreeSet<Cell> = area.iter().copied().collect();
    let leaves = |cell: &Cell| setting.flow().receiver(*cell).is_none_or(|next| !within.contains(&next));
    within.iter().copied().filter(leaves).collect()
}
