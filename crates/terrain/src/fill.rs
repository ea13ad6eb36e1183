//! Depression filling.

use fallwright_units::{Cell, Raster, SharedRaster};

use crate::link::Links;
use crate::surface::Filled;
use crate::tiled::{self, FillError, TILE_SIDE, Tiling};

/// Raises each cell to the lowest level from which its water can leave.
///
/// Water leaves at the outlets (cells at the raster's edge or beside missing data) and in the `sinks` of kept depressions.
/// A link carries water one way: its inlet is raised to the level at its outlet where that is higher (backwater), and no
/// other way leads on from an inlet.
///
/// *Units*: metres, `NaN` = no data. *Assumptions*: eight neighbours; no infinite elevations, no negative zero.
///
/// *Complexity*: O(n) for n cells and the sorting of the passes between basins; tiles in parallel (see [`crate::tiled`]).
pub fn fill(ground: &Raster<f32>, links: &Links, sinks: &[Cell]) -> Filled {
    let tiling = Tiling { frame: ground.frame, side: TILE_SIDE };
    let surface = SharedRaster::new(Raster::filled(ground.frame, f32::NAN));
    let node = SharedRaster::new(Raster::filled(ground.frame, 0));
    let blocked = match tiled::fill(&tiling, ground, &surface, &node, links, sinks) {
        Ok(()) => Vec::new(),
        Err(FillError::BlockedInlets(inlets)) => inlets,
    };
    Filled { surface: surface.into_raster(), blocked }
}
