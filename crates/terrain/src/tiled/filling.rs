//! Depression filling tile by tile.

use std::collections::BTreeMap;

use fallwright_units::{Cell, TileSink, TileSource, Window};
use multiversion::multiversion;
use thiserror::Error;

use super::basins::{self, BasinBuffers, Marked, OUTSIDE, TileBasins};
use super::patch::{Patch, Pool};
use super::raised::{RaisedBuffers, TileRaised};
use super::spill::join;
use super::tiling::Tiling;
use crate::link::Links;

/// Raises each cell to the lowest level from which its water can leave; the same surface as [`crate::textbook::fill`].
///
/// *Method*: each tile is filled as far as its own ground decides ([`Filling::solve`]). What remains open is at what level the
/// water of its basins along the edge leaves the raster: these basins are the nodes of a graph, joined by the passes between
/// them inside the tiles and across their edges, and one flood of the graph from the outside gives every node its level
/// ([`Filling::join`]). Last, no cell stays below the level of its node ([`Filling::finish`]).
///
/// `node` keeps the node of each cell from the first visit of its tile to the second. Without room for that, the second visit
/// finds the basins again: see [`Filling`]. `surface` may be the `ground` itself, whose elevations are lost where filling
/// fails.
///
/// *Units*: metres, `NaN` = no data. *Assumptions*: no infinite elevations, no negative zero.
///
/// *Complexity*: O(n) for n cells and the sorting of each tile's passes; tiles in parallel.
///
/// # Errors
/// Structures that can discharge nowhere, and failures of reading and writing; `surface` is not finished then.
///
/// *References*: see the modules `basins` and `spill`.
pub fn fill<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    surface: &impl TileSink<f32, Error = E>,
    node: &impl TileSink<u32, Error = E>,
    links: &Links,
    sinks: &[Cell],
) -> Result<(), FillError<E>> {
    let filling = Filling::new(tiling, links, sinks);
    let keep = |buffers: &Buffers, window| {
        buffers.ground.store(surface, window)?;
        buffers.node.store(node, window)
    };
    let tiles = tiling.each_tile(|tile| filling.solve_and(tile, ground, keep))?;
    let levels = filling.join(&tiles).map_err(FillError::BlockedInlets)?;
    drop(tiles);
    tiling.each_tile(|tile| filling.finish_from_nodes(tile, surface, node, &levels[tile]))?;
    Ok(())
}

/// Why a surface was not filled.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FillError<E> {
    /// The inlets of links through which no water can leave, because the only way on from their outlets leads back to them.
    #[error("structures that can discharge nowhere: inlets {0:?}")]
    BlockedInlets(Vec<Cell>),
    #[error("{0}")]
    Tile(E),
}

impl<E> From<E> for FillError<E> {
    fn from(error: E) -> Self {
        Self::Tile(error)
    }
}

/// The steps of filling, for one tile at a time: [`Self::solve`] each tile, [`Self::join`] what they report, [`Self::finish`]
/// each tile with its part of the reply.
///
/// Each step needs the same links and sinks, and nothing else of the steps before it: solving and finishing may run anywhere,
/// in any order. `finish` finds the basins of its tile again, which takes no room besides the surface and, over working files,
/// less time than to write and read the nodes.
#[derive(Debug)]
pub struct Filling<'a> {
    tiling: &'a Tiling,
    links: &'a Links,
    marked: Vec<Marked>,
    pool: Pool<Buffers>,
}

impl<'a> Filling<'a> {
    pub fn new(tiling: &'a Tiling, links: &'a Links, sinks: &[Cell]) -> Self {
        Self { tiling, links, marked: marked(tiling, links, sinks), pool: Pool::default() }
    }

    /// First step: what the rest of the raster must know of a tile's basins.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve<E>(&self, tile: usize, ground: &impl TileSource<f32, Error = E>) -> Result<TileBasins, E> {
        self.solve_and(tile, ground, |_, _| Ok(()))
    }

    /// Second step: the level of every node by tile, metres.
    ///
    /// *Complexity*: O(p log p) for p passes between nodes.
    ///
    /// # Errors
    /// Inlets of links through which no water can leave.
    pub fn join(&self, tiles: &[TileBasins]) -> Result<Vec<Vec<f32>>, Vec<Cell>> {
        join(self.tiling, tiles, self.links, &self.places_of_ends())
    }

    /// Third step: raises the cells of a tile to the levels of their nodes. `surface` may be the `ground` itself.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn finish<E>(
        &self,
        tile: usize,
        ground: &impl TileSource<f32, Error = E>,
        surface: &impl TileSink<f32, Error = E>,
        levels: &[f32],
    ) -> Result<(), E> {
        self.pool.with(|buffers| {
            let window = self.tiling.window(tile);
            buffers.ground.load(ground, window, f32::NAN)?;
            buffers.solve(&self.marked[tile]);
            raise_to_levels(&mut buffers.ground, &buffers.node, levels);
            buffers.ground.store(surface, window)
        })
    }

    /// The same in place, which counts what is raised before the ground is lost.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn finish_in_place<E>(
        &self,
        tile: usize,
        surface: &impl TileSink<f32, Error = E>,
        levels: &[f32],
    ) -> Result<TileRaised, E> {
        self.pool.with(|buffers| {
            let window = self.tiling.window(tile);
            buffers.ground.load(surface, window, f32::NAN)?;
            buffers.before.copy(&buffers.ground);
            buffers.solve(&self.marked[tile]);
            raise_to_levels(&mut buffers.ground, &buffers.node, levels);
            buffers.ground.store(surface, window)?;
            Ok(TileRaised::count(&self.tiling.ring(tile), &buffers.before, &buffers.ground, &mut buffers.raised))
        })
    }

    /// The third step of [`fill`].
    fn finish_from_nodes<E>(
        &self,
        tile: usize,
        surface: &impl TileSink<f32, Error = E>,
        node: &impl TileSink<u32, Error = E>,
        levels: &[f32],
    ) -> Result<(), E> {
        self.pool.with(|buffers| {
            let window = self.tiling.window(tile);
            buffers.ground.load(surface, window, f32::NAN)?;
            buffers.node.load(node, window, OUTSIDE)?;
            raise_to_levels(&mut buffers.ground, &buffers.node, levels);
            buffers.ground.store(surface, window)
        })
    }

    fn solve_and<E>(
        &self,
        tile: usize,
        ground: &impl TileSource<f32, Error = E>,
        keep: impl FnOnce(&Buffers, Window) -> Result<(), E>,
    ) -> Result<TileBasins, E> {
        self.pool.with(|buffers| {
            let window = self.tiling.window(tile);
            buffers.ground.load(ground, window, f32::NAN)?;
            let basins = buffers.solve(&self.marked[tile]);
            keep(buffers, window)?;
            Ok(basins)
        })
    }

    /// For each end of a link its tile and its place in [`TileBasins::ends`].
    fn places_of_ends(&self) -> BTreeMap<Cell, (usize, usize)> {
        let place = |end: Cell| {
            let (tile, cell) = self.tiling.index(end);
            let place = self.marked[tile].ends.binary_search(&cell);
            (end, (tile, place.expect("the ends of all links are among those of their tiles")))
        };
        self.links.iter().flat_map(|link| [link.inlet, link.outlet]).map(place).collect()
    }
}

/// The cells of every tile that are more than ground.
fn marked(tiling: &Tiling, links: &Links, sinks: &[Cell]) -> Vec<Marked> {
    let with_ends = |(tile, ends)| Marked { ends, at_edge: at_edge(tiling, tile), ..Marked::default() };
    let mut marked: Vec<Marked> = tiling.ends(links).into_iter().enumerate().map(with_ends).collect();
    for &sink in sinks {
        let (tile, cell) = tiling.index(sink);
        marked[tile].sinks.push(cell);
    }
    for link in links.iter() {
        let (tile, cell) = tiling.index(link.inlet);
        marked[tile].inlets.push(cell);
    }
    for marked in &mut marked {
        marked.inlets.sort_unstable();
    }
    marked
}

/// Whether a tile lies at the raster's north, south, west and east edge.
fn at_edge(tiling: &Tiling, tile: usize) -> [bool; 4] {
    let window = tiling.window(tile);
    let (east, south) = (window.col + window.cols, window.row + window.rows);
    [window.row == 0, south == tiling.frame.rows(), window.col == 0, east == tiling.frame.cols()]
}

#[derive(Debug, Default)]
struct Buffers {
    ground: Patch<f32>,
    node: Patch<u32>,
    basins: BasinBuffers,
    before: Patch<f32>,
    raised: RaisedBuffers,
}

impl Buffers {
    fn solve(&mut self, marked: &Marked) -> TileBasins {
        basins::solve(&mut self.ground, &mut self.node, &mut self.basins, marked)
    }
}

#[multiversion(targets = "simd")]
fn raise_to_levels(ground: &mut Patch<f32>, node: &Patch<u32>, levels: &[f32]) {
    for row in 0..ground.rows {
        let range = ground.row(row);
        for (z, &node) in ground.values[range.clone()].iter_mut().zip(&node.values[range]) {
            let level = levels[node as usize];
            // False where there is no data.
            if level > *z {
                *z = level;
            }
        }
    }
}
