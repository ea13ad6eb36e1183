//! Watersheds.

use fallwright_units::{Raster, SharedRaster};

use crate::flow::Flow;
use crate::tiled::{self, TILE_SIDE, Tiling};

/// Gives every cell the label of the first labelled cell on its way downstream, itself included.
///
/// `labels` holds 0 where there is no label; cells whose path meets none keep 0. With one labelled cell the result is that
/// cell's watershed.
///
/// *Complexity*: O(n) for n cells, tiles in parallel (see [`crate::tiled`]).
pub fn label_upstream(flow: &Flow, labels: Raster<u32>) -> Raster<u32> {
    let tiling = Tiling { frame: labels.frame, side: TILE_SIDE };
    let labels = SharedRaster::new(labels);
    let Ok(()) = tiled::label(&tiling, &flow.direction, &labels, &flow.links);
    labels.into_raster()
}
