//! Cuts: barriers lowered so that a depression drains to lower ground.

mod pond;
mod search;
mod seeker;
mod squares;
mod way;

use std::collections::{BTreeMap, HashMap};

use fallwright_units::{Cell, Raster};

use crate::tiled::{self, TILE_SIDE, Tiling};
use crate::{Links, depressions};

pub use pond::{Storage, storage};
pub(crate) use seeker::Seekers;
pub use way::Way;

/// The largest cut that may be made, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutLimits {
    /// Along the ground that has to be lowered.
    pub longest_m: f64,
    pub deepest_m: f64,
}

impl CutLimits {
    /// Whether any cut can be within the limits.
    pub fn allow_any(&self) -> bool {
        self.longest_m > 0.0 && self.deepest_m > 0.0
    }
}

/// A barrier that was lowered.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    pub way: Way,
    /// Bed level of each cell of the path, metres; never above the ground.
    pub bed: Vec<f32>,
    /// Greatest lowering, metres.
    pub depth_m: f64,
    /// Σ lowering over the path, metres; times a cell's area the volume.
    pub lowering_m: f64,
    /// The filled depression that the pit lies in, numbered from 0 in the order of their first cells.
    pub depression: usize,
}

/// A cut for every pit that drains to lower ground more cheaply than it fills, within the limits.
///
/// For each pit of the surface the cheapest way to lower ground is searched over cells no higher above the pit than the
/// deepest cut: the sum of max(0, z − pit) over the cells of the path is least, ties by length, then by cell index. Lower
/// ground is a cell below the pit, a cell where water leaves the data, or the inlet of a link whose outlet lies below the
/// pit. The path is graded evenly from the pit to its end. A cut is made where it is within the limits and moves no more
/// than the fill that the pit would need. All cuts are searched on the same frozen surface, so their order cannot matter;
/// beds are merged by [`cut_beds`].
///
/// A search that reaches into more than 1024 squares of 64 × 64 cells, or has more than 2¹⁸ cells to look at next, gives
/// up, and the pit is filled (our choice): it bounds the memory of a search.
///
/// *Units*: metres. *Assumptions*: `filled` is `surface` filled with the same links and sinks.
///
/// *Complexity*: for each pit O(k log k) in the k cells that are cheaper to reach than its fill; tiles in parallel.
///
/// *References*: L. W. Martz & J. Garbrecht (1999), An outlet breaching algorithm for the treatment of closed depressions
/// in a raster DEM, Computers & Geosciences 25, 835–844; P. Soille (2004), Optimal removal of spurious pits in grid digital
/// elevation models, Water Resources Research 40, W12509; J. B. Lindsay & K. Dhun (2015), Modelling surface drainage
/// patterns in altered landscapes using lidar, International Journal of Geographical Information Science 29, 397–411.
pub fn cuts(surface: &Raster<f32>, filled: &Raster<f32>, links: &Links, limits: CutLimits) -> Vec<Cut> {
    let tiling = Tiling { frame: surface.frame, side: TILE_SIDE };
    let Ok(pits) = tiled::pits(&tiling, surface, filled);
    let Ok(by_tile) = tiled::cuts(&tiling, surface, &pits, links, limits, |_, cuts| Ok(cuts));
    let mut cuts: Vec<Cut> = by_tile.into_iter().flatten().collect();
    cuts.sort_unstable_by_key(|cut| cut.way.path[0]);
    let at_pit: HashMap<Cell, usize> =
        cuts.iter().enumerate().map(|(position, cut)| (cut.way.path[0], position)).collect();
    for (number, depression) in depressions(surface, filled).enumerate() {
        for position in depression.cells.iter().filter_map(|cell| at_pit.get(cell)) {
            cuts[*position].depression = number;
        }
    }
    cuts
}

/// The bed of every cell that some cut lowers: the lowest of all cuts.
pub fn cut_beds(cuts: &[Cut]) -> BTreeMap<Cell, f32> {
    let mut beds = BTreeMap::new();
    for (&cell, &level) in cuts.iter().flat_map(|cut| cut.way.path.iter().zip(&cut.bed)) {
        beds.entry(cell).and_modify(|bed: &mut f32| *bed = bed.min(level)).or_insert(level);
    }
    beds
}
