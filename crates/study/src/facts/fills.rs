//! Filled ground that paths cross: the whole of each depression, not what lies on a path alone.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::FilledGround;
use fallwright_network::Setting;
use fallwright_units::{Cell, CellSet};

use super::quantities::{hectares, metres};
use crate::study::Study;

/// The filled ground around the cells where shares' paths lie deepest.
pub(super) struct Fills {
    of: BTreeMap<Cell, FilledGround>,
}

impl Fills {
    /// Of all shares, each fill once.
    pub(super) fn find(study: &Study) -> Self {
        let shares =
            study.shares.iter_enumerated().flat_map(|(parcel, own)| own.keys().map(move |share| (parcel, share)));
        let deepest: BTreeSet<Cell> =
            shares.filter_map(|(parcel, share)| study.courses.deepest_fill_at(parcel, share)).collect();
        let mut seen = CellSet::new(study.setting.frame().len());
        let mut of = BTreeMap::new();
        for &cell in &deepest {
            if !of.contains_key(&cell) {
                let cells = around(&study.setting, cell, |next| seen.insert(next));
                let filled = described(study, &cells);
                of.extend(cells.into_iter().filter(|cell| deepest.contains(cell)).map(|cell| (cell, filled)));
            }
        }
        Self { of }
    }

    pub(super) fn at(&self, cell: Cell) -> Option<FilledGround> {
        self.of.get(&cell).copied()
    }
}

/// The filled ground around a cell; `None` where it is not filled.
pub(super) fn fill_at(study: &Study, cell: Cell) -> Option<FilledGround> {
    let mut seen = BTreeSet::new();
    (study.setting.filled_m(cell) > 0.0)
        .then(|| described(study, &around(&study.setting, cell, |next| seen.insert(next))))
}

/// The filled cells that hang together with one; `is_new` answers once for each cell.
fn around(setting: &Setting, from: Cell, mut is_new: impl FnMut(Cell) -> bool) -> Vec<Cell> {
    let frame = setting.frame();
    is_new(from);
    let mut cells = vec![from];
    let mut next_unvisited = 0;
    while let Some(&cell) = cells.get(next_unvisited) {
        next_unvisited += 1;
        let next = frame.neighbours(cell).map(|(_, next)| next);
        cells.extend(next.filter(|&next| setting.filled_m(next) > 0.0 && is_new(next)));
    }
    cells
}

fn described(study: &Study, cells: &[Cell]) -> FilledGround {
    let depth_m = cells.iter().map(|&cell| study.setting.filled_m(cell)).fold(0.0, f64::max);
    FilledGround { area: hectares(study.hectares(cells.len() as u64)), depth: metres(depth_m) }
}
