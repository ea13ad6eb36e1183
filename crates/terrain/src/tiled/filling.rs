//! Filling tile by tile: basins of each tile, one join, and the levels handed back.

use std::collections::BTreeMap;

use fallwright_units::{Cell, TileSink, TileSource, Window};
use multiversion::multiversion;
use rayon::prelude::*;

use super::basins::{BasinBuffers, Marked, OUTSIDE, TileBasins, solve};
use super::patch::{Patch, Pool};
use super::raised::{Raised, RaisedBuffers, TileRaised};
use super::spill::join;
use super::tiling::Tiling;
use crate::Links;

/// The cells of every tile that are more than ground.
fn marked(tiling: &Tiling, links: &Links, sinks: &[Cell]) -> Vec<Marked> {
    let mut marked: Vec<Marked> = (0..tiling.len()).map(|tile| at_edge(tiling, tile)).collect();
    for &sink in sinks {
        let (tile, cell) = tiling.index(sink);
        marked[tile].sinks.push(cell);
    }
    for link in links.iter() {
        let (tile, cell) = tiling.index(link.inlet);
        marked[tile].inlets.push(cell);
    }
    for (marked, ends) in marked.iter_mut().zip(tiling.ends(links)) {
        marked.inlets.sort_unstable();
        marked.ends = ends;
    }
    marked
}

/// For each end of a link its tile and its place in [`TileBasins::ends`].
fn places_of_ends(tiling: &Tiling, links: &Links) -> BTreeMap<Cell, (usize, usize)> {
    let ends = tiling.ends(links);
    let place = |end: Cell| {
        let (tile, cell) = tiling.index(end);
        (end, (tile, ends[tile].binary_search(&cell).expect("the ends of all links are among them")))
    };
    links.iter().flat_map(|link| [link.inlet, link.outlet]).map(place).collect()
}

fn at_edge(tiling: &Tiling, tile: usize) -> Marked {
    let window = tiling.window(tile);
    let (east, south) = (window.col + window.cols, window.row + window.rows);
    let at_edge = [window.row == 0, south == tiling.frame.rows(), window.col == 0, east == tiling.frame.cols()];
    Marked { at_edge, ..Marked::default() }
}

#[derive(Default)]
struct Buffers {
    ground: Patch<f32>,
    node: Patch<u32>,
    basins: BasinBuffers,
    before: Patch<f32>,
    raised: RaisedBuffers,
}

impl Buffers {
    fn solve(&mut self, marked: &Marked) -> TileBasins {
        solve(&mut self.ground, &mut self.node, &mut self.basins, marked)
    }
}

/// Raises each cell to the lowest level from which its water can leave; the same surface as [`crate::textbook::fill`].
///
/// `surface` may be the `ground` itself. `node` is working space of the same frame, which saves finding the basins twice as
/// [`basins`], [`spill_levels`] and [`raise`] do. Returns the inlets of links through which no water can leave; where there
/// are any, `surface` is not finished.
///
/// *Complexity*: O(n) for n cells and the sorting of each tile's passes; tiles in parallel.
///
/// # Errors
/// What reading and writing meet.
pub fn fill<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    surface: &impl TileSink<f32, Error = E>,
    node: &impl TileSink<u32, Error = E>,
    links: &Links,
    sinks: &[Cell],
) -> Result<Vec<Cell>, E> {
    let keep = |buffers: &Buffers, window: Window| {
        buffers.ground.store(surface, window)?;
        buffers.node.store(node, window)
    };
    let tiles = each_basins(tiling, ground, links, sinks, keep)?;
    let levels = match spill_levels(tiling, &tiles, links) {
        Ok(levels) => levels,
        Err(blocked) => return Ok(blocked),
    };
    let pool = Pool::<Buffers>::default();
    let finish = |tile: usize| {
        pool.with(|buffers| {
            let window = tiling.window(tile);
            buffers.ground.load(surface, window, f32::NAN)?;
            buffers.node.load(node, window, OUTSIDE)?;
            raise_tile(&mut buffers.ground, &buffers.node, &levels[tile]);
            buffers.ground.store(surface, window)
        })
    };
    (0..tiling.len()).into_par_iter().try_for_each(finish)?;
    Ok(Vec::new())
}

/// First step of filling ground that may be larger than memory: tells by tile what the others must know.
///
/// # Errors
/// What reading meets.
pub fn basins<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    links: &Links,
    sinks: &[Cell],
) -> Result<Vec<TileBasins>, E> {
    each_basins(tiling, ground, links, sinks, |_, _| Ok(()))
}

/// Fills each tile as far as its own ground decides and hands it to `keep`; returns by tile what the others must know.
fn each_basins<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    links: &Links,
    sinks: &[Cell],
    keep: impl Fn(&Buffers, Window) -> Result<(), E> + Sync,
) -> Result<Vec<TileBasins>, E> {
    let marked = marked(tiling, links, sinks);
    let pool = Pool::<Buffers>::default();
    let visit = |tile: usize| {
        pool.with(|buffers| {
            let window = tiling.window(tile);
            buffers.ground.load(ground, window, f32::NAN)?;
            let basins = buffers.solve(&marked[tile]);
            keep(buffers, window)?;
            Ok(basins)
        })
    };
    (0..tiling.len()).into_par_iter().map(visit).collect()
}

/// Second step: joins what the tiles told. Returns by tile the levels of its nodes, metres.
///
/// *Complexity*: O(p log p) for p passes between nodes.
///
/// # Errors
/// Inlets of links through which no water can leave.
pub fn spill_levels(tiling: &Tiling, tiles: &[TileBasins], links: &Links) -> Result<Vec<Vec<f32>>, Vec<Cell>> {
    let levels = join(tiling, tiles, links, &places_of_ends(tiling, links));
    if levels.blocked.is_empty() {
        Ok((0..tiles.len()).map(|tile| levels.of(tile).to_vec()).collect())
    } else {
        Err(levels.blocked)
    }
}

/// Third step: no cell stays below the level of its node. The nodes are found once more, which takes less time than to read
/// and write them. `surface` may be the `ground` itself. Tells what was raised.
///
/// # Errors
/// What reading and writing meet.
pub fn raise<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    surface: &impl TileSink<f32, Error = E>,
    links: &Links,
    sinks: &[Cell],
    levels: &[Vec<f32>],
) -> Result<Raised, E> {
    let marked = marked(tiling, links, sinks);
    let pool = Pool::<Buffers>::default();
    let finish = |tile: usize| {
        pool.with(|buffers| {
            let window = tiling.window(tile);
            buffers.ground.load(ground, window, f32::NAN)?;
            buffers.before.copy(&buffers.ground);
            buffers.solve(&marked[tile]);
            raise_tile(&mut buffers.ground, &buffers.node, &levels[tile]);
            buffers.ground.store(surface, window)?;
            Ok(TileRaised::count(&tiling.ring(tile), &buffers.before, &buffers.ground, &mut buffers.raised))
        })
    };
    let tiles: Vec<TileRaised> = (0..tiling.len()).into_par_iter().map(finish).collect::<Result<_, E>>()?;
    Ok(Raised::of(tiling, &tiles))
}

#[multiversion(targets = "simd")]
fn raise_tile(ground: &mut Patch<f32>, node: &Patch<u32>, levels: &[f32]) {
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
