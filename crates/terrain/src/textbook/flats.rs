//! Drainage across flats.
//!
//! A flat cell has no lower neighbour. Water crosses a flat toward its low edge and away from higher ground, by a mask of
//! integers: twice the steps to the low edge, plus how much nearer to higher ground a cell is than the flat's farthest
//! one. Every flat cell then has a neighbour with a smaller mask.
//!
//! A link whose ends stand at one level (backwater) takes part: its inlet counts as one step farther than its outlet. On
//! the part of a flat beside such an inlet the gradient away from higher ground is left out, since across the link it
//! could lead water in a circle.
//!
//! *References*: R. Barnes, C. Lehman & D. Mulla (2014), An efficient assignment of drainage direction over flat surfaces
//! in raster digital elevation models, Computers & Geosciences 62, 128–135; J. Garbrecht & L. W. Martz (1997), The
//! assignment of drainage direction over flat surfaces in raster digital elevation models, Journal of Hydrology 193,
//! 204–213.

use std::collections::VecDeque;

use fallwright_units::{Cell, Raster};

use crate::direction::{self, ON_FLAT};
use crate::link::Links;

const UNREACHED: u32 = 0;

/// Gives every flat cell the direction of the neighbour with the smallest mask; ties go to the lowest code.
///
/// *Complexity*: O(n) for n cells.
pub(crate) fn resolve_flats(surface: &Raster<f32>, direction: &mut Raster<u8>, links: &Links) {
    let mask = flat_mask(surface, direction, links);
    let flat: Vec<Cell> = flat_cells(direction).collect();
    for cell in flat {
        let lowest = level_neighbours(surface, cell)
            .filter(|&(_, next)| mask[next] != UNREACHED)
            .min_by_key(|&(position, next)| (mask[next], position));
        // Filling gave every cell a path that never rises, so a flat cell always has a neighbour nearer to the low edge.
        direction[cell] = lowest.map_or(direction::ENDS, |(position, _)| direction::of_neighbour(position));
    }
}

/// The mask of every flat and low-edge cell; 0 elsewhere.
pub(crate) fn flat_mask(surface: &Raster<f32>, direction: &Raster<u8>, links: &Links) -> Raster<u32> {
    let toward = steps_toward_low_edge(surface, direction, links);
    let away = steps_away_from_higher_ground(surface, direction);
    let mut mask = toward;
    for steps in &mut mask.values {
        *steps *= 2;
    }
    for part in connected_parts(surface, direction) {
        if part.iter().any(|&cell| is_beside_level_inlet(surface, cell, links)) {
            continue;
        }
        let farthest = part.iter().map(|&cell| away[cell]).max().unwrap_or(0);
        for cell in part {
            mask[cell] += farthest - away[cell];
        }
    }
    mask
}

/// Those of some cells that lie on a flat which water cannot leave.
pub(crate) fn undrained(surface: &Raster<f32>, direction: &Raster<u8>, links: &Links, cells: Vec<Cell>) -> Vec<Cell> {
    let toward = steps_toward_low_edge(surface, direction, links);
    cells.into_iter().filter(|&cell| direction[cell] == ON_FLAT && toward[cell] == UNREACHED).collect()
}

fn flat_cells(direction: &Raster<u8>) -> impl Iterator<Item = Cell> + '_ {
    direction.values.iter().enumerate().filter(|&(_, &code)| code == ON_FLAT).map(|(index, _)| Cell(index))
}

fn level_neighbours(surface: &Raster<f32>, cell: Cell) -> impl Iterator<Item = (usize, Cell)> + '_ {
    let level = surface[cell];
    surface.frame.neighbours(cell).filter(move |&(_, next)| surface[next] == level)
}

/// 1 on the low edge: cells beside the flat, at its level, from which water already leaves. Then one more per step.
fn steps_toward_low_edge(surface: &Raster<f32>, direction: &Raster<u8>, links: &Links) -> Raster<u32> {
    let mut steps = Raster::filled(surface.frame, UNREACHED);
    let mut open = VecDeque::new();
    for index in 0..direction.values.len() {
        let cell = Cell(index);
        if leaves_level(surface, direction, links, cell) && borders_flat(surface, direction, links, cell) {
            steps[cell] = 1;
            open.push_back(cell);
        }
    }
    while let Some(cell) = open.pop_front() {
        let beside = level_neighbours(surface, cell).map(|(_, next)| next).filter(|&next| direction[next] == ON_FLAT);
        let carried = level_inlets(surface, cell, links);
        for next in beside.chain(carried) {
            if steps[next] == UNREACHED {
                steps[next] = steps[cell] + 1;
                open.push_back(next);
            }
        }
    }
    steps
}

/// Whether a cell's water leaves its level at once: over a lower neighbour, out of the data, or by a link that falls.
fn leaves_level(surface: &Raster<f32>, direction: &Raster<u8>, links: &Links, cell: Cell) -> bool {
    match direction[cell] {
        ON_FLAT | direction::NODATA => false,
        direction::CARRIED => links.outlet_of(cell).is_some_and(|outlet| surface[outlet] < surface[cell]),
        _ => true,
    }
}

fn borders_flat(surface: &Raster<f32>, direction: &Raster<u8>, links: &Links, cell: Cell) -> bool {
    level_neighbours(surface, cell).any(|(_, next)| direction[next] == ON_FLAT)
        || level_inlets(surface, cell, links).next().is_some()
}

/// Inlets of links that end in this cell and stand at its level.
fn level_inlets<'a>(surface: &'a Raster<f32>, outlet: Cell, links: &'a Links) -> impl Iterator<Item = Cell> + 'a {
    links.inlets_of(outlet).iter().copied().filter(move |&inlet| surface[inlet] == surface[outlet])
}

fn is_beside_level_inlet(surface: &Raster<f32>, cell: Cell, links: &Links) -> bool {
    level_neighbours(surface, cell)
        .any(|(_, next)| links.outlet_of(next).is_some_and(|outlet| surface[outlet] == surface[next]))
}

/// 1 beside higher ground, one more per step into the flat; 0 where no higher ground borders the flat.
fn steps_away_from_higher_ground(surface: &Raster<f32>, direction: &Raster<u8>) -> Raster<u32> {
    let mut steps = Raster::filled(surface.frame, 0);
    let mut open = VecDeque::new();
    for cell in flat_cells(direction) {
        if surface.frame.neighbours(cell).any(|(_, next)| surface[next] > surface[cell]) {
            steps[cell] = 1;
            open.push_back(cell);
        }
    }
    while let Some(cell) = open.pop_front() {
        for (_, next) in level_neighbours(surface, cell) {
            if direction[next] == ON_FLAT && steps[next] == 0 {
                steps[next] = steps[cell] + 1;
                open.push_back(next);
            }
        }
    }
    steps
}

/// The flat cells in connected parts.
fn connected_parts(surface: &Raster<f32>, direction: &Raster<u8>) -> Vec<Vec<Cell>> {
    let mut seen = vec![false; surface.frame.len()];
    let mut parts = Vec::new();
    for start in flat_cells(direction) {
        if std::mem::replace(&mut seen[start.0], true) {
            continue;
        }
        let mut part = vec![start];
        let mut next_unvisited = 0;
        while let Some(&cell) = part.get(next_unvisited) {
            next_unvisited += 1;
            for (_, next) in level_neighbours(surface, cell) {
                if direction[next] == ON_FLAT && !std::mem::replace(&mut seen[next.0], true) {
                    part.push(next);
                }
            }
        }
        parts.push(part);
    }
    parts
}
