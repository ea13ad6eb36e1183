//! Whether water that takes another way can change any finding.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_network::Setting;
use fallwright_terrain::direction;
use fallwright_units::Cell;

/// Whether some new directions leave every finding as it is: all water that takes another way comes together again on the
/// same land, before it meets anything mapped, and is too little to mark a channel; or less than `least` cells take another
/// way at all.
///
/// What a share meets, whose land it crosses and where it ends is then the same for every cell, and so is its size.
///
/// *Complexity*: O(k log k) in the cells between where the ways part and where they meet.
pub(super) fn is_harmless(setting: &Setting, directions: &BTreeMap<Cell, u8>, channel_cells: u64, least: u64) -> bool {
    let flow = setting.flow();
    let turned = |cell: &Cell| directions.contains_key(cell);
    let moved: u64 = directions
        .keys()
        .filter(|&&cell| flow.receiver(cell).is_none_or(|next| !turned(&next)))
        .map(|&cell| setting.area(cell))
        .sum();
    if moved < least {
        return true;
    }
    let Some(land) = directions.keys().next().map(|&cell| setting.parties.of(cell)) else { return true };
    let on_same_land = |cell: Cell| setting.parties.of(cell) == land;
    let is_plain = |cell: Cell| {
        on_same_land(cell)
            && setting.waterway_of(cell).is_none()
            && setting.structure_at(cell).is_none()
            && setting.area(cell) + moved < channel_cells
    };
    // Ordered by the land that drains through: a cell comes after all those whose water passes it.
    let mut open: BTreeSet<(u64, Cell)> = BTreeSet::new();
    for (&cell, &code) in directions {
        let step = direction::step(code).and_then(|step| setting.frame().step(cell, step));
        let (Some(before), Some(after), true) = (flow.receiver(cell), step, is_plain(cell)) else { return false };
        let next = [before, after].into_iter().filter(|next| !turned(next));
        open.extend(next.map(|next| (setting.area(next), next)));
    }
    while open.len() > 1 {
        let Some((_, cell)) = open.pop_first() else { break };
        let (Some(next), true) = (flow.receiver(cell), is_plain(cell)) else { return false };
        if !turned(&next) {
            open.insert((setting.area(next), next));
        }
    }
    open.first().is_none_or(|&(_, cell)| on_same_land(cell))
}
