//! Depression filling.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use fallwright_units::{Cell, Raster};

use crate::link::Links;
use crate::surface::{Filled, Level, is_outlet};

/// Raises each cell to the lowest level from which its water can leave: the priority flood.
///
/// The flood starts from the outlets (cells at the raster's edge or beside missing data, and the `sinks` of kept
/// depressions) and grows inward, lowest level first. A link is walked backwards: its inlet is reached only from its
/// outlet, so water that enters a structure leaves at its other end and the flood's own order rules out a cycle. An inlet
/// is raised to the level at its outlet where that is higher (backwater).
///
/// *Units*: metres, `NaN` = no data. *Assumptions*: eight neighbours; no infinite elevations.
///
/// *Complexity*: O(n log n) for n cells.
///
/// *References*: R. Barnes, C. Lehman & D. Mulla (2014), Priority-flood: an optimal depression-filling and
/// watershed-labeling algorithm for digital elevation models, Computers & Geosciences 62, 117–127 (algorithm 1).
pub fn fill(ground: &Raster<f32>, links: &Links, sinks: &[Cell]) -> Filled {
    let frame = ground.frame;
    let mut surface = Raster::filled(frame, f32::NAN);
    let mut reached = vec![false; frame.len()];
    let mut open = BinaryHeap::new();
    let seeds = (0..frame.len()).map(Cell).filter(|&cell| is_outlet(ground, cell)).chain(sinks.iter().copied());
    for cell in seeds {
        if !reached[cell.0] && !links.is_inlet(cell) && !ground[cell].is_nan() {
            reached[cell.0] = true;
            open.push(Reverse((Level(ground[cell]), cell)));
        }
    }
    while let Some(Reverse((Level(level), cell))) = open.pop() {
        surface[cell] = level;
        let beside = frame.neighbours(cell).map(|(_, cell)| cell).filter(|&next| !links.is_inlet(next));
        for next in beside.chain(links.inlets_of(cell).iter().copied()) {
            if !reached[next.0] && !ground[next].is_nan() {
                reached[next.0] = true;
                open.push(Reverse((Level(ground[next].max(level)), next)));
            }
        }
    }
    let blocked = links.iter().map(|link| link.inlet).filter(|inlet| !reached[inlet.0]).collect();
    Filled { surface, blocked }
}
