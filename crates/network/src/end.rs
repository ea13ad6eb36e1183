//! Where water ends.

use std::collections::BTreeMap;

use fallwright_terrain::{Flow, direction};
use fallwright_units::{Cell, Raster};

/// Why a path goes no farther.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum End {
    /// It leaves the elevation data at their outer edge.
    Edge,
    /// It runs into missing elevation that data surround.
    Hole,
    /// It stays in a kept depression.
    KeptDepression,
    /// It stays in a mapped lake that has no outlet.
    ClosedLake,
}

/// Every cell where water ends, with the reason.
///
/// *Complexity*: O(n) for n cells.
pub fn ends(flow: &Flow) -> BTreeMap<Cell, End> {
    let outside = outside(flow);
    (0..flow.direction.values.len())
        .map(Cell)
        .filter(|&cell| flow.direction[cell] == direction::ENDS)
        .map(|cell| (cell, end_at(flow, &outside, cell)))
        .collect()
}

fn end_at(flow: &Flow, outside: &Raster<bool>, cell: Cell) -> End {
    let frame = flow.direction.frame;
    let missing: Vec<Cell> =
        frame.neighbours(cell).map(|(_, next)| next).filter(|&next| !flow.has_data(next)).collect();
    if frame.neighbours(cell).count() < 8 || missing.iter().any(|&next| outside[next]) {
        End::Edge
    } else if missing.is_empty() {
        End::KeptDepression
    } else {
        End::Hole
    }
}

/// Missing cells connected with the raster's edge.
fn outside(flow: &Flow) -> Raster<bool> {
    let frame = flow.direction.frame;
    let mut outside = Raster::filled(frame, false);
    let at_edge = |&cell: &Cell| frame.neighbours(cell).count() < 8;
    let mut open: Vec<Cell> = (0..frame.len()).map(Cell).filter(|&cell| !flow.has_data(cell)).filter(at_edge).collect();
    while let Some(cell) = open.pop() {
        if !std::mem::replace(&mut outside[cell], true) {
            open.extend(frame.neighbours(cell).map(|(_, next)| next).filter(|&next| !flow.has_data(next)));
        }
    }
    outside
}
