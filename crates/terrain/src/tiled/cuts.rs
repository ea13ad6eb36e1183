//! Cuts tile by tile: each tile searches those of its own pits, wherever they lead.

use fallwright_units::{TileSink, TileSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::patch::Patch;
use super::pits::cell;
use super::tiling::Tiling;
use crate::cut::Seekers;
use crate::{Cut, CutLimits, Links};

/// Searches the cuts of each tile's pits, as [`crate::cuts`] describes, and hands them to `take` with the tile's number, in
/// the order of the pits. Returns by tile what that returned; no cut is numbered by its depression.
///
/// `pits` are those that [`super::pits`] finds. A search reads the surface in squares of 64 × 64 cells, as far as it goes.
///
/// *Complexity*: see [`crate::cuts`]; tiles in parallel.
///
/// # Errors
/// What reading and `take` meet.
pub fn cuts<E: Send, R: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    pits: &[Vec<u32>],
    links: &Links,
    limits: CutLimits,
    take: impl Fn(usize, Vec<Cut>) -> Result<R, E> + Sync,
) -> Result<Vec<R>, E> {
    let seekers = Seekers::new(surface, links, limits);
    let visit = |tile: usize| {
        let cuts = seekers.cuts(pits[tile].iter().map(|&number| cell(tiling, tile, number)))?;
        take(tile, cuts)
    };
    (0..tiling.len()).into_par_iter().map(visit).collect()
}

/// A bed that lies in another tile than its cut's pit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Beyond {
    pub tile: u32,
    /// `row * cols + col` of that tile.
    pub number: u32,
    /// Metres.
    pub bed: f32,
}

/// Copies a tile of the `surface` to `lowered`, with the beds of its cuts; returns the beds that lie in other tiles.
///
/// # Errors
/// What reading and writing meet.
pub fn lower<E>(
    tiling: &Tiling,
    tile: usize,
    cuts: &[Cut],
    surface: &impl TileSource<f32, Error = E>,
    lowered: &impl TileSink<f32, Error = E>,
) -> Result<Vec<Beyond>, E> {
    let window = tiling.window(tile);
    let mut patch = Patch::default();
    patch.load(surface, window, f32::NAN)?;
    let mut beyond = Vec::new();
    for (&cell, &bed) in cuts.iter().flat_map(|cut| cut.way.path.iter().zip(&cut.bed)) {
        let place = tiling.place(cell);
        if place.tile == tile {
            let position = patch.at(place.col, place.row);
            patch.values[position] = patch.values[position].min(bed);
        } else {
            let number = place.row * tiling.window(place.tile).cols + place.col;
            beyond.push(Beyond { tile: place.tile as u32, number: number as u32, bed });
        }
    }
    patch.store(lowered, window)?;
    Ok(beyond)
}

/// Lowers cells to the beds that other tiles' cuts gave them.
///
/// *Complexity*: O(b log b) for b beds.
///
/// # Errors
/// What reading and writing meet.
pub fn lower_beyond<E: Send>(
    tiling: &Tiling,
    lowered: &impl TileSink<f32, Error = E>,
    mut beds: Vec<Beyond>,
) -> Result<(), E> {
    beds.par_sort_unstable_by_key(|bed| bed.tile);
    let by_tile: Vec<_> = beds.chunk_by(|a, b| a.tile == b.tile).collect();
    by_tile.into_par_iter().try_for_each(|beds| {
        let window = tiling.window(beds[0].tile as usize);
        let mut patch = Patch::default();
        patch.load(lowered, window, f32::NAN)?;
        for bed in beds {
            let position = patch.at(bed.number as usize % window.cols, bed.number as usize / window.cols);
            patch.values[position] = patch.values[position].min(bed.bed);
        }
        patch.store(lowered, window)
    })
}
