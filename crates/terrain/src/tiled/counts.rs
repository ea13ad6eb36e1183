//! Flow accumulation tile by tile.

use fallwright_units::{TileSink, TileSource};
use serde::{Deserialize, Serialize};

use super::order::FlowOrder;
use super::patch::{Patch, Pool};
use super::routes::{BEYOND, NOWHERE, Numbered, Ports, RouteBuffers, TileRoutes, exit, follow};
use super::tiling::Tiling;
use crate::direction;
use crate::link::Links;

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

#[derive(Debug, Default)]
struct Buffers<C> {
    code: Patch<u8>,
    count: Patch<C>,
    order: FlowOrder,
    routes: RouteBuffers,
}

/// The number of cells that drain through each cell, itself included; the same as [`crate::textbook::accumulation`].
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// Failures of reading and writing.
pub fn accumulate<C: Count, E: Send>(
    tiling: &Tiling,
    code: &impl TileSource<u8, Error = E>,
    count: &impl TileSink<C, Error = E>,
    links: &Links,
) -> Result<(), E> {
    let counting = Counting::new(tiling, links);
    let inflows = counting.join(tiling.each_tile(|tile| counting.solve(tile, code))?);
    tiling.each_tile(|tile| counting.finish(tile, code, count, &inflows[tile]))?;
    Ok(())
}

/// The steps of [`accumulate`], for one tile at a time: [`Self::solve`] each tile, [`Self::join`] what they report,
/// [`Self::finish`] each tile with its part of the reply.
#[derive(Debug)]
pub struct Counting<'a, C> {
    tiling: &'a Tiling,
    links: &'a Links,
    ports: Vec<Ports>,
    pool: Pool<Buffers<C>>,
}

impl<'a, C: Count> Counting<'a, C> {
    pub fn new(tiling: &'a Tiling, links: &'a Links) -> Self {
        Self { tiling, links, ports: Ports::all(tiling, links), pool: Pool::default() }
    }

    /// First step: counts the cells of a tile alone.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve<E>(&self, tile: usize, code: &impl TileSource<u8, Error = E>) -> Result<TileCounts, E> {
        let ports = &self.ports[tile];
        self.pool.with(|buffers| {
            buffers.code.load(code, self.tiling.window(tile), BEYOND)?;
            count_in_tile(buffers, &[]);
            let last = follow(&buffers.code, ports, &mut buffers.routes, |_| false);
            let exit = last.into_iter().map(|cell| exit(&buffers.code, ports, cell)).collect();
            let code = ports.cells().map(|cell| buffers.code.values[cell]).collect();
            // No tile has more cells than 32 bits count.
            let cells = ports.cells().map(|cell| buffers.count.values[cell].into() as u32).collect();
            Ok(TileCounts { routes: TileRoutes { exit, code }, cells })
        })
    }

    /// Second step: by tile the ports where water comes in from other tiles, each with its number of cells.
    ///
    /// *Complexity*: O(p) for p ports.
    pub fn join(&self, tiles: Vec<TileCounts>) -> Vec<Vec<(u32, u64)>> {
        let numbered = Numbered::new(self.tiling, self.links, &self.ports);
        numbered.by_tile(&join(&numbered, tiles))
    }

    /// Third step: counts the cells of a tile once more, with those that come in; to write what the first step counted and
    /// read it again would take longer where the raster is on file.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn finish<E>(
        &self,
        tile: usize,
        code: &impl TileSource<u8, Error = E>,
        count: &impl TileSink<C, Error = E>,
        inflows: &[(u32, u64)],
    ) -> Result<(), E> {
        let cells: Vec<usize> = self.ports[tile].cells().collect();
        let entries: Vec<_> = inflows.iter().map(|&(port, more)| (cells[port as usize], more)).collect();
        self.pool.with(|buffers| {
            let window = self.tiling.window(tile);
            buffers.code.load(code, window, BEYOND)?;
            count_in_tile(buffers, &entries);
            buffers.count.store(count, window)
        })
    }
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
