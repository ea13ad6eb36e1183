//! Flow accumulation tile by tile.

use fallwright_units::{TileSink, TileSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::order::FlowOrder;
use super::patch::{Patch, Pool};
use super::routes::{BEYOND, NOWHERE, Numbered, Ports, RouteBuffers, TileRoutes, exit, follow};
use super::tiling::Tiling;
use crate::{Links, direction};

/// A whole number of cells.
pub trait Count: Copy + Default + Send + Sync + std::ops::AddAssign + Into<u64> {
    /// *Panics*: where the number does not fit.
    fn of(cells: u64) -> Self;
}

impl Count for u32 {
    fn of(cells: u64) -> Self {
        Self::try_from(cells).expect("the frame has more cells than 32 bits count")
    }
}

impl Count for u64 {
    fn of(cells: u64) -> Self {
        cells
    }
}

/// What the rest of the raster must know of one tile's counts.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileCounts {
    pub routes: TileRoutes,
    /// Cells of the tile that drain through each port.
    pub cells: Vec<u32>,
}

struct Buffers<C> {
    code: Patch<u8>,
    count: Patch<C>,
    order: FlowOrder,
    routes: RouteBuffers,
}

impl<C: Count> Default for Buffers<C> {
    fn default() -> Self {
        let (code, count) = (Patch::default(), Patch::default());
        Self { code, count, order: FlowOrder::default(), routes: RouteBuffers::default() }
    }
}

/// The number of cells that drain through each cell, itself included; the same as [`crate::textbook::accumulation`].
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// What reading and writing meet.
pub fn accumulate<C: Count, E: Send>(
    tiling: &Tiling,
    code: &impl TileSource<u8, Error = E>,
    count: &impl TileSink<C, Error = E>,
    links: &Links,
) -> Result<(), E> {
    let tiles = tile_counts(tiling, code, links)?;
    add_inflows(tiling, code, count, links, &inflows(tiling, tiles, links))
}

/// First step of [`accumulate`]: counts the cells of each tile alone, and tells by tile what the others must know.
///
/// # Errors
/// What reading meets.
pub fn tile_counts<E: Send>(
    tiling: &Tiling,
    code: &impl TileSource<u8, Error = E>,
    links: &Links,
) -> Result<Vec<TileCounts>, E> {
    let pool = Pool::<Buffers<u32>>::default();
    let ports = Ports::all(tiling, links);
    let visit = |tile: usize| {
        pool.with(|buffers| {
            buffers.code.load(code, tiling.window(tile), BEYOND)?;
            count_in_tile(buffers, &[]);
            let last = follow(&buffers.code, &ports[tile], &mut buffers.routes, |_| false);
            let exit = last.into_iter().map(|cell| exit(&buffers.code, &ports[tile], cell)).collect();
            let code = ports[tile].cells().map(|cell| buffers.code.values[cell]).collect();
            let cells = ports[tile].cells().map(|cell| buffers.count.values[cell]).collect();
            Ok(TileCounts { routes: TileRoutes { exit, code }, cells })
        })
    };
    (0..tiling.len()).into_par_iter().map(visit).collect()
}

/// Second step of [`accumulate`]: by tile the ports where water comes in from other tiles, each with its number of cells.
///
/// *Complexity*: O(p) for p ports.
pub fn inflows(tiling: &Tiling, tiles: Vec<TileCounts>, links: &Links) -> Vec<Vec<(u32, u64)>> {
    let ports = Ports::all(tiling, links);
    let numbered = Numbered::new(tiling, links, &ports);
    let inflow = join(&numbered, tiles);
    let of_tile = |tile: usize| {
        let ports = (0..).zip(inflow[numbered.of_tile(tile)].iter().copied());
        let mut found: Vec<(u32, u64)> = ports.filter(|&(_, cells)| cells > 0).collect();
        found.shrink_to_fit();
        found
    };
    (0..tiling.len()).map(of_tile).collect()
}

/// Third step of [`accumulate`]: counts the cells of each tile once more, with those that come in; to write what the first
/// step counted and read it again would take longer where the raster is on file.
///
/// # Errors
/// What reading and writing meet.
pub fn add_inflows<C: Count, E: Send>(
    tiling: &Tiling,
    code: &impl TileSource<u8, Error = E>,
    count: &impl TileSink<C, Error = E>,
    links: &Links,
    inflows: &[Vec<(u32, u64)>],
) -> Result<(), E> {
    let pool = Pool::<Buffers<C>>::default();
    let ports = Ports::all(tiling, links);
    (0..tiling.len()).into_par_iter().try_for_each(|tile| {
        let cells: Vec<usize> = ports[tile].cells().collect();
        let entries: Vec<_> = inflows[tile].iter().map(|&(port, more)| (cells[port as usize], more)).collect();
        pool.with(|buffers| {
            let window = tiling.window(tile);
            buffers.code.load(code, window, BEYOND)?;
            count_in_tile(buffers, &entries);
            buffers.count.store(count, window)
        })
    })
}

/// Counts the cells that drain through each cell of a tile, and those that come in at some.
fn count_in_tile<C: Count>(buffers: &mut Buffers<C>, entries: &[(usize, u64)]) {
    let Buffers { code, count, order, .. } = buffers;
    count.fit(code.cols, code.rows, C::default());
    for (count, &code) in count.values.iter_mut().zip(&code.values) {
        *count = C::of(u64::from(code != direction::NODATA));
    }
    let counts = &mut count.values[..];
    for &(cell, more) in entries {
        counts[cell] += C::of(more);
    }
    order.find(code, |cell, next| {
        let cells = counts[cell];
        counts[next] += cells;
    });
}

/// Cells that come into each port from other tiles.
///
/// *Complexity*: O(p) for p ports.
fn join(numbered: &Numbered, tiles: Vec<TileCounts>) -> Vec<u64> {
    let entries = numbered.entries(tiles.iter().map(|tile| tile.routes.code.as_slice()));
    // By port: where its water leaves the tile next, and how many cells leave by it.
    let mut exits = Vec::with_capacity(numbered.len());
    let mut leaving: Vec<u64> = Vec::with_capacity(numbered.len());
    for (tile, counts) in tiles.into_iter().enumerate() {
        exits.extend(numbered.exits(tile, &counts.routes));
        leaving.extend(counts.cells.into_iter().map(u64::from));
    }
    hand_on(&entries, &exits, &mut leaving);
    drop(exits);
    let mut inflow = vec![0; numbered.len()];
    for (&entry, cells) in entries.iter().zip(leaving).filter(|(entry, _)| **entry != NOWHERE) {
        inflow[entry as usize] += cells;
    }
    inflow
}

/// Adds the cells that leave by a port to those that leave by all others on their way.
fn hand_on(entries: &[u32], exits: &[u32], leaving: &mut [u64]) {
    let ports = || (0..entries.len()).filter(|&port| entries[port] != NOWHERE);
    let next_exit = |exit: usize| exits[entries[exit] as usize];
    let mut donors = vec![0_u32; entries.len()];
    for exit in ports() {
        if let Some(donors) = donors.get_mut(next_exit(exit) as usize) {
            *donors += 1;
        }
    }
    for head in ports() {
        let mut exit = head;
        while donors[exit] == 0 {
            donors[exit] = DONE;
            let next = next_exit(exit);
            if next == NOWHERE {
                break;
            }
            leaving[next as usize] += leaving[exit];
            donors[next as usize] -= 1;
            exit = next as usize;
        }
    }
}

/// In the place of a port's number of donors: what leaves by it is handed on.
const DONE: u32 = u32::MAX;
