//! Flow accumulation.

use fallwright_units::{Raster, SharedRaster};

use crate::flow::Flow;
use crate::tiled::{self, Count, TILE_SIDE, Tiling};

/// The number of cells that drain through each cell, itself included; 0 where there is no data.
///
/// Exact integers, so the counts at the cells where water ends sum to the number of cells with data.
///
/// *Complexity*: O(n) for n cells, tiles in parallel (see [`crate::tiled`]).
pub fn accumulation(flow: &Flow) -> Raster<u64> {
    counted(flow)
}

/// The same in half the memory.
///
/// # Panics
/// More cells than 32 bits count.
pub fn accumulation_u32(flow: &Flow) -> Raster<u32> {
    counted(flow)
}

fn counted<C: Count>(flow: &Flow) -> Raster<C> {
    let tiling = Tiling { frame: flow.direction.frame, side: TILE_SIDE };
    let count = SharedRaster::new(Raster::filled(tiling.frame, C::default()));
    let Ok(()) = tiled::accumulate(&tiling, &flow.direction, &count, &flow.links);
    count.into_raster()
}
