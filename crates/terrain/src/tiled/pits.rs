//! The lowest cells of depressions, tile by tile; level bottoms that reach into several tiles are joined.

use fallwright_units::{Cell, TileSource};
use serde::{Deserialize, Serialize};

use super::patch::{Patch, Pool};
use super::sets::root;
use super::tiling::{Ring, TilePlace, Tiling};

/// What the rest of the raster must know of one tile's pits.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TilePits {
    /// Pits whose bottom lies inside the tile, as `row * cols + col` of the tile, in ascending order.
    pub inner: Vec<u32>,
    /// Level bottoms without lower ground beside them that touch the tile's edge: the first of their cells that filling
    /// raised, [`NOT_RAISED`] where it raised none.
    pub open: Vec<u32>,
    /// Level of each cell along the edge, and its place in `open` counted from 1; 0 where it lies in no such bottom.
    pub ring: Vec<(f32, u32)>,
}

pub const NOT_RAISED: u32 = u32::MAX;

#[derive(Debug, Default)]
struct Buffers {
    surface: Patch<f32>,
    filled: Patch<f32>,
    seen: Patch<bool>,
    part: Vec<usize>,
}

/// The pits of each tile as `row * cols + col` of the tile, in ascending order: level parts of the surface with no lower
/// cell beside them that filling raised, each by the first of its raised cells.
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// Failures of reading.
pub fn pits<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    filled: &impl TileSource<f32, Error = E>,
) -> Result<Vec<Vec<u32>>, E> {
    let pits = Pits::new(tiling);
    Ok(pits.join(tiling.each_tile(|tile| pits.solve(tile, surface, filled))?))
}

/// The steps of [`pits`], for one tile at a time: [`Self::solve`] each tile and [`Self::join`] what they report. The pits of a
/// tile are then searched by [`super::Cutting`].
#[derive(Debug)]
pub struct Pits<'a> {
    tiling: &'a Tiling,
    pool: Pool<Buffers>,
}

impl<'a> Pits<'a> {
    pub fn new(tiling: &'a Tiling) -> Self {
        Self { tiling, pool: Pool::default() }
    }

    /// First step: the pits of a tile, as far as the tile itself decides.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve<E>(
        &self,
        tile: usize,
        surface: &impl TileSource<f32, Error = E>,
        filled: &impl TileSource<f32, Error = E>,
    ) -> Result<TilePits, E> {
        self.pool.with(|buffers| {
            buffers.surface.load_with_margin(surface, self.tiling.window(tile), f32::NAN)?;
            buffers.filled.load(filled, self.tiling.window(tile), f32::NAN)?;
            Ok(find(buffers))
        })
    }

    /// Second step: a bottom in several tiles is a pit where none of its parts has lower ground beside it.
    ///
    /// *Complexity*: O(e) for e cells along the edges of tiles.
    pub fn join(&self, tiles: Vec<TilePits>) -> Vec<Vec<u32>> {
        join(self.tiling, tiles)
    }
}

fn find(buffers: &mut Buffers) -> TilePits {
    let Buffers { surface, filled, seen, part } = buffers;
    let edge = Ring::of(surface);
    let mut open_part = vec![0; edge.len()];
    let mut found = TilePits::default();
    seen.reset(surface.cols, surface.rows, false);
    let mut look = |start: usize, found: &mut TilePits| {
        if seen.values[start] || surface.values[start].is_nan() {
            return;
        }
        let is_bottom = collect(surface, seen, part, start);
        if !is_bottom {
            return;
        }
        let raised = part.iter().filter(|&&cell| filled.values[cell] > surface.values[cell]);
        let first = raised.min().map_or(NOT_RAISED, |&cell| surface.number(cell));
        let mut at_edge = part.iter().filter_map(|&cell| edge.of_patch(cell)).peekable();
        if at_edge.peek().is_some() {
            found.open.push(first);
            at_edge.for_each(|position| open_part[position] = found.open.len() as u32);
        } else if first != NOT_RAISED {
            found.inner.push(first);
        }
    };
    let raised = surface.cells().filter(|&start| filled.values[start] > surface.values[start]);
    for start in edge.patch_cells().chain(raised) {
        look(start, &mut found);
    }
    found.inner.sort_unstable();
    found.ring = edge.patch_cells().map(|cell| surface.values[cell]).zip(open_part).collect();
    found
}

/// Gathers the level part of a cell in its tile; whether no cell beside it is lower.
fn collect(surface: &Patch<f32>, seen: &mut Patch<bool>, part: &mut Vec<usize>, start: usize) -> bool {
    let level = surface.values[start];
    let offsets = surface.offsets();
    let mut is_bottom = true;
    part.clear();
    part.push(start);
    seen.values[start] = true;
    let mut next_unvisited = 0;
    while let Some(&cell) = part.get(next_unvisited) {
        next_unvisited += 1;
        for offset in offsets {
            let next = cell.wrapping_add_signed(offset);
            let z = surface.values[next];
            is_bottom &= z >= level || z.is_nan();
            if z == level && !seen.values[next] && surface.is_inside(next) {
                seen.values[next] = true;
                part.push(next);
            }
        }
    }
    is_bottom
}

fn join(tiling: &Tiling, tiles: Vec<TilePits>) -> Vec<Vec<u32>> {
    let mut first_part = vec![0_u32];
    for tile in &tiles {
        first_part.push(first_part[first_part.len() - 1] + tile.open.len() as u32);
    }
    let parts = first_part[tiles.len()] as usize;
    let mut parent: Vec<u32> = (0..parts as u32).collect();
    let mut is_pit = vec![true; parts];
    for tile in 0..tiles.len() {
        for (here, there) in tiling.across_edge(tile) {
            let [a, b] = [here, there].map(|place: TilePlace| tiles[place.tile].ring[tiling.ring_position(place)]);
            if a.1 == 0 || a.0 != b.0 {
                continue;
            }
            let mut whole =
                |place: TilePlace, number: u32| root(&mut parent, first_part[place.tile] + number - 1) as usize;
            let a = whole(here, a.1);
            if b.1 == 0 {
                is_pit[a] = false;
                continue;
            }
            let b = whole(there, b.1);
            parent[a.max(b)] = a.min(b) as u32;
            is_pit[a.min(b)] &= is_pit[a.max(b)];
        }
    }
    let mut first: Vec<Option<(Cell, usize, u32)>> = vec![None; parts];
    for (tile, pits) in tiles.iter().enumerate() {
        for (position, &number) in pits.open.iter().enumerate().filter(|(_, number)| **number != NOT_RAISED) {
            let part = root(&mut parent, first_part[tile] + position as u32) as usize;
            let found = (tiling.numbered(tile, number), tile, number);
            if is_pit[part] && first[part].is_none_or(|first| found < first) {
                first[part] = Some(found);
            }
        }
    }
    let mut pits: Vec<Vec<u32>> = tiles.into_iter().map(|tile| tile.inner).collect();
    for (_, tile, number) in first.into_iter().flatten() {
        pits[tile].push(number);
    }
    for pits in &mut pits {
        pits.sort_unstable();
    }
    pits
}
