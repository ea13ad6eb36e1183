//! Single-direction flow.

use fallwright_units::{Cell, Raster};
use rayon::prelude::*;

use super::flats::{resolve_flats, undrained};
use crate::direction::{self, ON_FLAT, neighbour_distances};
use crate::flow::Flow;
use crate::link::Links;
use crate::surface::is_outlet;

/// The direction of steepest fall among the eight neighbours, flats resolved.
///
/// Slope is the drop over the distance between centres. *Ties* go to the lowest code: north-east first, then clockwise to
/// north. A link's inlet is carried by its structure whatever the ground does. Where no neighbour is lower, water ends at
/// the edge of the data, beside missing data and in the `sinks` of kept depressions; elsewhere the cell lies on a flat and
/// drains across it (see the module `flats`).
///
/// *Units*: `surface` in metres, filled by [`crate::fill`] with the same links and sinks.
///
/// *Complexity*: O(n) for n cells, rows in parallel; flats one after the other.
///
/// *References*: J. F. O'Callaghan & D. M. Mark (1984), The extraction of drainage networks from digital elevation data,
/// Computer Vision, Graphics, and Image Processing 28, 323–344.
pub fn flow_direction(surface: &Raster<f32>, links: Links, sinks: &[Cell]) -> Flow {
    flow_along_channels(surface, links, sinks, &[])
}

/// The same with mapped channels, given as consecutive cells drawn downstream: where a channel runs along the edge of the
/// data, or beside missing data, and on at its level, its water stays in it, if it can leave elsewhere.
pub fn flow_along_channels(surface: &Raster<f32>, links: Links, sinks: &[Cell], channels: &[Vec<Cell>]) -> Flow {
    let frame = surface.frame;
    let mut direction = Raster::filled(frame, direction::NODATA);
    direction.values.par_chunks_mut(frame.cols()).enumerate().for_each(|(row, codes)| {
        for (col, code) in codes.iter_mut().enumerate() {
            *code = steepest(surface, frame.cell(col, row));
        }
    });
    let passing = passing(surface, &direction, channels);
    for &cell in &passing {
        direction[cell] = ON_FLAT;
    }
    for &sink in sinks {
        direction[sink] = direction::ENDS;
    }
    for link in links.iter() {
        direction[link.inlet] = direction::CARRIED;
    }
    if !passing.is_empty() {
        for cell in undrained(surface, &direction, &links, passing) {
            direction[cell] = direction::ENDS;
        }
    }
    resolve_flats(surface, &mut direction, &links);
    Flow { direction, links }
}

/// Cells of mapped channels where water would leave the data although the channel runs on at the same level.
fn passing(surface: &Raster<f32>, direction: &Raster<u8>, channels: &[Vec<Cell>]) -> Vec<Cell> {
    let runs_on = |pair: &[Cell]| surface.frame.neighbours(pair[0]).any(|(_, next)| next == pair[1]);
    channels
        .iter()
        .flat_map(|channel| channel.windows(2))
        .filter(|pair| direction[pair[0]] == direction::ENDS && surface[pair[0]] == surface[pair[1]] && runs_on(pair))
        .map(|pair| pair[0])
        .collect()
}

fn steepest(surface: &Raster<f32>, cell: Cell) -> u8 {
    let here = surface[cell];
    if here.is_nan() {
        return direction::NODATA;
    }
    let distance = neighbour_distances(&surface.frame);
    let mut best = (0.0, None);
    for (position, next) in surface.frame.neighbours(cell) {
        // A comparison with missing data (NaN) is false.
        let slope = (f64::from(here) - f64::from(surface[next])) / distance[position];
        if slope > best.0 {
            best = (slope, Some(position));
        }
    }
    match best.1 {
        Some(position) => direction::of_neighbour(position),
        None if is_outlet(surface, cell) => direction::ENDS,
        None => ON_FLAT,
    }
}
