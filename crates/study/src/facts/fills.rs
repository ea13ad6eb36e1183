//! Filled ground that paths cross: the whole of each depression, not what lies on a path alone.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::FilledGround;
use fallwright_network::Setting;
use fallwright_units::Cell;

use super::quantities::{hectares, metres};
use crate::study::Study;

/// The filled ground around some cells.
pub(super) struct Fills {
    /// For each cell of such ground its position in the list.
    of: BTreeMap<Cell, usize>,
    list: Vec<FilledGround>,
}

impl Fills {
    /// Of all shares, each fill once.
    pub(super) fn find(study: &Study) -> Self {
        let mut fills = Self { of: BTreeMap::new(), list: Vec::new() };
        for (parcel, shares) in study.shares.iter_enumerated() {
            for share in shares.keys() {
                let at = study.courses.deepest_fill_at(parcel, share);
                if let Some(at) = at.filter(|at| !fills.of.contains_key(at)) {
                    let cells = around(&study.setting, at);
                    fills.of.extend(cells.iter().map(|&cell| (cell, fills.list.len())));
                    fills.list.push(described(study, &cells));
                }
            }
        }
        fills
    }

    pub(super) fn at(&self, cell: Cell) -> Option<FilledGround> {
        self.of.get(&cell).map(|&position| self.list[position])
    }
}

/// The filled ground around a cell; `None` where it is not filled.
pub(super) fn fill_at(study: &Study, cell: Cell) -> Option<FilledGround> {
    (study.setting.filled_m(cell) > 0.0).then(|| described(study, &around(&study.setting, cell)))
}

/// The filled cells that hang together with one.
fn around(setting: &Setting, from: Cell) -> Vec<Cell> {
    let frame = setting.frame();
    let mut seen = BTreeSet::from([from]);
    let mut cells = vec![from];
    let mut next_unvisited = 0;
    while let Some(&cell) = cells.get(next_unvisited) {
        next_unvisited += 1;
        let next = frame.neighbours(cell).map(|(_, next)| next);
        cells.extend(next.filter(|&next| setting.filled_m(next) > 0.0 && seen.insert(next)));
    }
    cells
}

fn described(study: &Study, cells: &[Cell]) -> FilledGround {
    let depth_m = cells.iter().map(|&cell| study.setting.filled_m(cell)).fold(0.0, f64::max);
    FilledGround { area: hectares(study.hectares(cells.len() as u64)), depth: metres(depth_m) }
}
