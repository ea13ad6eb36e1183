//! What filling raised, counted tile by tile.

use super::patch::Patch;
use super::sets::root;
use super::tiling::{Place, Ring, Tiling};

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
#[derive(Default)]
pub(super) struct TileRaised {
    /// The area of each cell along the edge, of those at the edge, counted from 1; 0 where nothing was raised.
    ring: Vec<u32>,
    at_edge: usize,
    areas: u32,
    cells: usize,
    cells_with_data: usize,
    fill: u128,
    deepest_m: f64,
}

#[derive(Default)]
pub(super) struct RaisedBuffers {
    area: Patch<u32>,
    open: Vec<usize>,
}

impl Raised {
    /// What tiles counted, put together.
    pub(super) fn of(tiling: &Tiling, tiles: &[TileRaised]) -> Self {
        Self {
            areas: areas(tiling, tiles),
            cells: tiles.iter().map(|tile| tile.cells).sum(),
            cells_with_data: tiles.iter().map(|tile| tile.cells_with_data).sum(),
            fill_m: tiles.iter().map(|tile| tile.fill).sum::<u128>() as f64 / PARTS_A_METRE,
            deepest_m: tiles.iter().map(|tile| tile.deepest_m).fold(0.0, f64::max),
        }
    }
}

impl TileRaised {
    /// Counts what lies higher on the `surface` of a tile than on its `ground`.
    ///
    /// *Complexity*: O(n) for n cells.
    pub(super) fn count(ring: &Ring, ground: &Patch<f32>, surface: &Patch<f32>, buffers: &mut RaisedBuffers) -> Self {
        let RaisedBuffers { area, open } = buffers;
        let mut found = Self::default();
        area.reset(ground.cols, ground.rows, 0);
        let offsets = ground.offsets();
        for start in ground.cells() {
            found.cells_with_data += usize::from(!ground.values[start].is_nan());
            let is_raised = |cell: usize| surface.values[cell] > ground.values[cell];
            if !is_raised(start) {
                continue;
            }
            let depth_m = f64::from(surface.values[start]) - f64::from(ground.values[start]);
            found.cells += 1;
            found.fill += (depth_m * PARTS_A_METRE) as u128;
            found.deepest_m = found.deepest_m.max(depth_m);
            if area.values[start] != 0 {
                continue;
            }
            found.areas += 1;
            area.values[start] = found.areas;
            open.push(start);
            while let Some(cell) = open.pop() {
                for offset in offsets {
                    let next = cell.wrapping_add_signed(offset);
                    if area.values[next] == 0 && is_raised(next) {
                        area.values[next] = found.areas;
                        open.push(next);
                    }
                }
            }
        }
        let ring: Vec<u32> = ring.cells().map(|(col, row)| area.values[area.at(col, row)]).collect();
        let mut at_edge: Vec<u32> = ring.iter().copied().filter(|&area| area != 0).collect();
        at_edge.sort_unstable();
        at_edge.dedup();
        let place = |area: u32| at_edge.binary_search(&area).map_or(0, |place| place as u32 + 1);
        found.ring = ring.into_iter().map(place).collect();
        found.at_edge = at_edge.len();
        found
    }
}

/// The number of areas, where those that touch across tiles are one.
fn areas(tiling: &Tiling, tiles: &[TileRaised]) -> usize {
    let mut first = vec![0];
    for tile in tiles {
        first.push(first[first.len() - 1] + tile.at_edge);
    }
    let mut areas = tiles.iter().map(|tile| tile.areas as usize).sum();
    let mut parent: Vec<usize> = (0..first[tiles.len()]).collect();
    for tile in (0..tiles.len()).filter(|&tile| tiles[tile].ring.iter().any(|&area| area != 0)) {
        for (here, there) in tiling.across_edge(tile).filter(|(_, there)| there.tile > tile) {
            let area = |place: Place| tiles[place.tile].ring[tiling.ring_position(place)] as usize;
            if area(here) == 0 || area(there) == 0 {
                continue;
            }
            let [a, b] = [here, there].map(|place| first[place.tile] + area(place) - 1);
            let (a, b) = (root(&mut parent, a), root(&mut parent, b));
            if a != b {
                parent[a.max(b)] = a.min(b);
                areas -= 1;
            }
        }
    }
    areas
}
