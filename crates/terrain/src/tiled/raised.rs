//! What filling raised, counted tile by tile.

use fallwright_units::TileSource;
use serde::{Deserialize, Serialize};

use super::patch::{Patch, Pool};
use super::sets::root;
use super::tiling::{Ring, TilePlace, Tiling};

/// What filling raised.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Raised {
    /// Connected areas.
    pub areas: usize,
    pub cells: usize,
    /// Cells with an elevation.
    pub cells_with_data: usize,
    /// Σ fill over the cells, metres; times a cell's area the volume.
    pub fill_m: f64,
    pub deepest_m: f64,
}

/// Heights are added in whole parts of this many to the metre, so that no order of adding matters.
pub const PARTS_A_METRE: f64 = (1_u64 << 40) as f64;

/// What filling raised in one tile.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileRaised {
    edge: EdgeAreas,
    areas: usize,
    cells: usize,
    cells_with_data: usize,
    fill: u128,
    deepest_m: f64,
}

/// Counts what lies higher on a `surface` than on its `ground`.
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// Failures of reading.
pub fn raised<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    surface: &impl TileSource<f32, Error = E>,
) -> Result<Raised, E> {
    let pool = Pool::<(Patch<f32>, Patch<f32>, RaisedBuffers)>::default();
    let visit = |tile: usize| {
        pool.with(|(before, after, buffers)| {
            before.load(ground, tiling.window(tile), f32::NAN)?;
            after.load(surface, tiling.window(tile), f32::NAN)?;
            Ok(TileRaised::count(&tiling.ring(tile), before, after, buffers))
        })
    };
    Ok(Raised::of(tiling, &tiling.each_tile(visit)?))
}

impl Raised {
    /// What tiles counted, put together.
    pub fn of(tiling: &Tiling, tiles: &[TileRaised]) -> Self {
        let edges: Vec<&EdgeAreas> = tiles.iter().map(|tile| &tile.edge).collect();
        let united = JoinedAreas::new(tiling, &edges).united;
        Self {
            areas: tiles.iter().map(|tile| tile.areas).sum::<usize>() - united,
            cells: tiles.iter().map(|tile| tile.cells).sum(),
            cells_with_data: tiles.iter().map(|tile| tile.cells_with_data).sum(),
            fill_m: tiles.iter().map(|tile| tile.fill).sum::<u128>() as f64 / PARTS_A_METRE,
            deepest_m: tiles.iter().map(|tile| tile.deepest_m).fold(0.0, f64::max),
        }
    }
}

impl TileRaised {
    /// *Complexity*: O(n) for n cells.
    pub(super) fn count(ring: &Ring, ground: &Patch<f32>, surface: &Patch<f32>, buffers: &mut RaisedBuffers) -> Self {
        let mut found = Self { areas: buffers.label(ground, surface).len(), ..Self::default() };
        for cell in ground.cells() {
            found.cells_with_data += usize::from(!ground.values[cell].is_nan());
            if surface.values[cell] > ground.values[cell] {
                let depth_m = f64::from(surface.values[cell]) - f64::from(ground.values[cell]);
                found.cells += 1;
                found.fill += (depth_m * PARTS_A_METRE) as u128;
                found.deepest_m = found.deepest_m.max(depth_m);
            }
        }
        found.edge = buffers.along_edge(ring).0;
        found
    }
}

/// Raised areas that touch the edge of their tile.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct EdgeAreas {
    /// The area of each cell along the edge, counted from 1; 0 where nothing was raised.
    ring: Vec<u32>,
    count: usize,
}

/// Raised areas of one tile.
#[derive(Debug, Default)]
pub(super) struct RaisedBuffers {
    /// The area of each cell, counted from 1 in the order of their first cells; 0 where nothing was raised.
    pub(super) area: Patch<u32>,
    open: Vec<usize>,
}

impl RaisedBuffers {
    /// Labels the connected areas in which the `surface` lies higher than the `ground`; returns the first cell of each.
    pub(super) fn label(&mut self, ground: &Patch<f32>, surface: &Patch<f32>) -> Vec<usize> {
        let Self { area, open } = self;
        let mut first = Vec::new();
        area.reset(ground.cols, ground.rows, 0);
        let offsets = ground.offsets();
        let is_raised = |cell: usize| surface.values[cell] > ground.values[cell];
        for start in ground.cells() {
            if !is_raised(start) || area.values[start] != 0 {
                continue;
            }
            first.push(start);
            let number = first.len() as u32;
            area.values[start] = number;
            open.push(start);
            while let Some(cell) = open.pop() {
                for offset in offsets {
                    let next = cell.wrapping_add_signed(offset);
                    if area.values[next] == 0 && is_raised(next) {
                        area.values[next] = number;
                        open.push(next);
                    }
                }
            }
        }
        first
    }

    /// The areas that touch the edge, and the numbers that they have in the tile, ascending.
    pub(super) fn along_edge(&self, ring: &Ring) -> (EdgeAreas, Vec<u32>) {
        let ring: Vec<u32> = ring.patch_cells().map(|cell| self.area.values[cell]).collect();
        let mut at_edge: Vec<u32> = ring.iter().copied().filter(|&area| area != 0).collect();
        at_edge.sort_unstable();
        at_edge.dedup();
        let place = |area: u32| at_edge.binary_search(&area).map_or(0, |place| place as u32 + 1);
        (EdgeAreas { ring: ring.into_iter().map(place).collect(), count: at_edge.len() }, at_edge)
    }
}

/// The areas along the edges of all tiles, where those that touch across tiles are one.
pub(super) struct JoinedAreas {
    /// Where the areas of each tile begin.
    first: Vec<usize>,
    parent: Vec<u32>,
    /// How many areas are part of another.
    united: usize,
}

impl JoinedAreas {
    pub(super) fn new(tiling: &Tiling, tiles: &[&EdgeAreas]) -> Self {
        let mut first = vec![0];
        for tile in tiles {
            first.push(first[first.len() - 1] + tile.count);
        }
        let mut joined = Self { parent: (0..first[tiles.len()] as u32).collect(), first, united: 0 };
        for tile in (0..tiles.len()).filter(|&tile| tiles[tile].count > 0) {
            for (here, there) in tiling.across_edge(tile).filter(|(_, there)| there.tile > tile) {
                let area = |place: TilePlace| tiles[place.tile].ring[tiling.ring_position(place)] as usize;
                if area(here) == 0 || area(there) == 0 {
                    continue;
                }
                let [a, b] = [here, there].map(|place| joined.whole(place.tile, area(place) - 1));
                if a != b {
                    joined.parent[a.max(b)] = a.min(b) as u32;
                    joined.united += 1;
                }
            }
        }
        joined
    }

    /// Number of areas before any are united.
    pub(super) fn len(&self) -> usize {
        self.parent.len()
    }

    /// The whole that an area of a tile, counted from 0, is part of.
    pub(super) fn whole(&mut self, tile: usize, area: usize) -> usize {
        root(&mut self.parent, (self.first[tile] + area) as u32) as usize
    }
}
