//! Small grids with known answers, and properties that must always hold.

mod conditioning;
mod cuts;
mod known_grids;
mod properties;
mod spread;
mod tiles;

use std::collections::BTreeMap;

use fallwright_units::{Cell, Frame, Raster};

use crate::{Conditioned, Conditioning, Cut, Link, Links, condition};

/// A surface from rows of text; `.` is missing data.
pub(crate) fn grid(rows: &str) -> Raster<f32> {
    let rows: Vec<Vec<f32>> = rows
        .lines()
        .map(|line| line.split_whitespace().map(|word| word.parse().unwrap_or(f32::NAN)).collect::<Vec<f32>>())
        .filter(|row| !row.is_empty())
        .collect();
    let frame = Frame::new(rows[0].len(), rows.len(), (0.0, 0.0), (1.0, 1.0)).unwrap();
    Raster { frame, values: rows.concat() }
}

pub(crate) fn bare(ground: &Raster<f32>) -> Conditioned {
    condition(ground, Conditioning::default()).unwrap()
}

pub(crate) fn linked(ground: &Raster<f32>, links: &[Link]) -> Conditioned {
    condition(ground, Conditioning { links: Links::new(links).unwrap(), ..Conditioning::default() }).unwrap()
}

/// The bed of every cell that some cut lowers: the lowest of all cuts.
pub(crate) fn cut_beds(cuts: &[Cut]) -> BTreeMap<Cell, f32> {
    let mut beds = BTreeMap::new();
    for (&cell, &level) in cuts.iter().flat_map(|cut| cut.way.path.iter().zip(&cut.bed)) {
        beds.entry(cell).and_modify(|bed: &mut f32| *bed = bed.min(level)).or_insert(level);
    }
    beds
}

/// The cell where a path ends; panics if the path is longer than the raster, which only a cycle can cause.
pub(crate) fn end_of(conditioned: &Conditioned, from: Cell) -> Cell {
    let cells = conditioned.surface.frame.len();
    let path: Vec<Cell> = conditioned.flow.path(from).take(cells + 1).collect();
    assert!(path.len() <= cells, "the path from {from:?} runs in a circle");
    *path.last().unwrap()
}
