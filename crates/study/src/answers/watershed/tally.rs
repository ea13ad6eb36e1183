//! Cells of a watershed by land and part.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_network::{End, Party};
use fallwright_units::Cell;

use super::parts::WatershedParts;
use crate::study::Study;

pub type Cells = BTreeMap<(Party, u32), u64>;

#[derive(Default)]
pub struct Tally {
    /// By the way of surface water.
    pub surface: Cells,
    /// By the way of piped water, which need not be the same.
    pub piped: Cells,
    /// Cells that drain to the watershed itself in either way, each once.
    pub either: BTreeMap<Party, u64>,
    /// Where the watershed's limit meets the edge of the elevation other than where its own water leaves.
    pub meets_edge: BTreeSet<(Party, u32)>,
}

impl Tally {
    /// *Complexity*: one pass over the cells.
    pub fn of(study: &Study, parts: &WatershedParts) -> Self {
        let mut tally = Self::default();
        for cell in study.setting.parties.cells().filter(|&cell| study.setting.flow().has_data(cell)) {
            let surface = parts.labels[cell];
            let piped = match study.drained_to(cell) {
                Some(structure) => parts.piped_to(study, structure),
                None => 0,
            };
            if surface == 0 && piped == 0 {
                continue;
            }
            let party = study.setting.parties.of(cell);
            if surface != 0 {
                *tally.surface.entry((party, surface)).or_default() += 1;
                if is_on_rim(study, cell) {
                    tally.meets_edge.insert((party, surface));
                }
            }
            if piped != 0 {
                *tally.piped.entry((party, piped)).or_default() += 1;
            }
            if parts.is_inside(surface) || parts.is_inside(piped) {
                *tally.either.entry(party).or_default() += 1;
            }
        }
        tally
    }

    /// Lands and parts with any water, in order.
    pub fn keys(&self) -> BTreeSet<(Party, u32)> {
        self.surface.keys().chain(self.piped.keys()).copied().collect()
    }
}

/// The sum over the parts that a test accepts.
pub fn sum(cells: &Cells, is_meant: impl Fn(u32) -> bool) -> u64 {
    cells.iter().filter(|&(&(_, label), _)| is_meant(label)).map(|(_, cells)| cells).sum()
}

/// The same on one land.
pub(super) fn sum_on(party: Party, cells: &Cells, is_meant: impl Fn(u32) -> bool) -> u64 {
    cells
        .range((party, 0)..=(party, u32::MAX))
        .filter(|&(&(_, label), _)| is_meant(label))
        .map(|(_, cells)| cells)
        .sum()
}

fn is_on_rim(study: &Study, cell: Cell) -> bool {
    let frame = study.setting.frame();
    let flow = study.setting.flow();
    let rim = frame.neighbours(cell).count() < 8 || frame.neighbours(cell).any(|(_, next)| !flow.has_data(next));
    rim && study.setting.ends().get(&cell) != Some(&End::Edge)
}
