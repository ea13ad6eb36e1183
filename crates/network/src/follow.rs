//! Following the water of one cell.

use fallwright_units::Cell;

use crate::courses::Shared;
use crate::place::{PathPlace, next_on_path, on_to};
use crate::steps::Steps;
use crate::{Path, Setting, Trace};

/// Follows the water from a cell to the first lawful outlet. Through a structure the path is straight.
///
/// *Complexity*: O(length of the path in cells).
pub fn trace(setting: &Setting, from: Cell) -> Trace {
    report_route(setting, &cells_on_path(setting, from))
}

/// The same with the places on the path.
///
/// *Complexity*: O(length of the path in cells), and as much memory.
pub fn path(setting: &Setting, from: Cell) -> Path {
    let cells = cells_on_path(setting, from);
    let mut places = Vec::with_capacity(cells.len());
    for (position, &cell) in cells.iter().enumerate() {
        places.extend(on_to(setting, cell, cells.get(position + 1).copied()));
    }
    let mut to_end = vec![Steps::default(); places.len()];
    for position in (1..places.len()).rev() {
        let (upper, lower) = (&places[position - 1], &places[position]);
        to_end[position - 1] = to_end[position] + upper.step_to(setting, lower);
    }
    let whole = to_end[0];
    let station = |(place, &rest): (PathPlace, &Steps)| place.station((whole - rest).metres(&setting.frame()));
    let stations = places.into_iter().zip(&to_end).map(station).collect();
    Path { stations, trace: report_route(setting, &cells) }
}

fn cells_on_path(setting: &Setting, from: Cell) -> Vec<Cell> {
    std::iter::successors(Some(from), |&cell| next_on_path(setting, cell)).collect()
}

/// The reported route over some cells.
fn report_route(setting: &Setting, cells: &[Cell]) -> Trace {
    let mut shared = Shared::default();
    let reach = |beyond, &cell: &Cell| Some(shared.reach(setting, &|_| false, cell, beyond));
    let ahead = cells.iter().rev().fold(None, reach).expect("a path has a cell");
    ahead.trace(setting, &shared)
}
