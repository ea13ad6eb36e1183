//! Cuts tile by tile: each tile searches those of its own pits, wherever they lead.

use std::fmt;

use fallwright_units::{Cell, TileSink, TileSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::patch::Patch;
use super::tiling::Tiling;
use crate::cut::{Cut, CutLimits};
use crate::cut_search::Seekers;
use crate::link::Links;

/// The steps of cutting, for one tile at a time: [`Self::solve`] each tile's pits, and copy its surface with the cuts made
/// ([`Self::copy_lowered`]), which reports the beds that lie in other tiles. [`lower`] joins those and finishes the copy.
///
/// A cut is made for every pit that drains to lower ground more cheaply than it fills, within the limits.
///
/// For each pit of the surface the path to lower ground is searched over cells no higher above the pit than the deepest cut
/// of which the sum of max(0, z − pit) over its cells is least, ties by length, then by cell index. Lower ground is a cell
/// below the pit, a cell where water leaves the data, or the inlet of a link whose outlet lies below the pit. The path is
/// graded evenly from the pit to its end. A cut is made where it is within the limits and moves no more than the fill that
/// the pit would need. All cuts are searched on the same frozen surface, so their order cannot matter; a cell that several
/// cuts lower has the lowest of their beds.
///
/// A search that reaches into more than 1024 squares of 64 × 64 cells, or has more than 2¹⁸ cells to look at next, gives
/// up, and the pit is filled (our choice): it bounds the memory of a search.
///
/// *Units*: metres. *Assumptions*: the pits are those of the surface filled with the same links and sinks.
///
/// *Complexity*: for each pit O(k log k) in the k cells that are cheaper to reach than its fill.
///
/// *References*: L. W. Martz & J. Garbrecht (1999), An outlet breaching algorithm for the treatment of closed depressions
/// in a raster DEM, Computers & Geosciences 25, 835–844; P. Soille (2004), Optimal removal of spurious pits in grid digital
/// elevation models, Water Resources Research 40, W12509; J. B. Lindsay & I. F. Creed (2005), Removal of artifact depressions
/// from digital elevation models: towards a minimum impact approach, Hydrological Processes 19, 3113–3126 (which first chose
/// for each depression between cutting and filling by the least change); J. B. Lindsay & K. Dhun (2015), Modelling surface
/// drainage patterns in altered landscapes using lidar, International Journal of Geographical Information Science 29, 397–411.
pub struct Cutting<'a, S> {
    tiling: &'a Tiling,
    surface: &'a S,
    seekers: Seekers<'a, S>,
}

impl<S> fmt::Debug for Cutting<'_, S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Cutting").field("tiling", self.tiling).finish_non_exhaustive()
    }
}

impl<'a, S: TileSource<f32>> Cutting<'a, S> {
    /// A search reads the `surface` in squares of 64 × 64 cells, as far as it goes.
    pub fn new(tiling: &'a Tiling, surface: &'a S, links: &'a Links, limits: CutLimits) -> Self {
        Self { tiling, surface, seekers: Seekers::new(surface, links, limits) }
    }

    /// First step: the cuts of a tile's pits, in the order of the pits, which are those that [`super::pits`] finds. The
    /// depression of a cut is its pit alone: [`super::pit_depressions`] finds the whole.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve(&self, tile: usize, pits: &[u32]) -> Result<Vec<Cut>, S::Error> {
        self.seekers.cuts(pits.iter().map(|&number| self.tiling.numbered(tile, number)))
    }

    /// Copies a tile of the surface to `lowered`, with the beds of its cuts; returns the beds that lie in other tiles.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn copy_lowered(
        &self,
        tile: usize,
        cuts: &[Cut],
        lowered: &impl TileSink<f32, Error = S::Error>,
    ) -> Result<Vec<Bed>, S::Error> {
        let window = self.tiling.window(tile);
        let mut patch = Patch::default();
        patch.load(self.surface, window, f32::NAN)?;
        let beds = cuts.iter().flat_map(|cut| cut.way.path.iter().zip(&cut.bed));
        let beds = beds.map(|(&cell, &level)| Bed::new(self.tiling, cell, level));
        let (own, beyond): (Vec<Bed>, Vec<Bed>) = beds.partition(|bed| bed.tile as usize == tile);
        lower_patch(&mut patch, &own);
        patch.store(lowered, window)?;
        Ok(beyond)
    }
}

/// The level that a cell is lowered to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bed {
    pub tile: u32,
    /// `row * cols + col` of that tile.
    pub number: u32,
    /// Metres.
    pub level: f32,
}

impl Bed {
    pub fn new(tiling: &Tiling, cell: Cell, level: f32) -> Self {
        Self { tile: tiling.place(cell).tile as u32, number: tiling.number(cell), level }
    }
}

/// Lowers the cells of a surface to beds in any order; cells that lie lower stay as they are.
///
/// *Complexity*: O(b log b) for b beds, tiles in parallel.
///
/// # Errors
/// Failures of reading and writing.
pub fn lower<E: Send>(tiling: &Tiling, surface: &impl TileSink<f32, Error = E>, mut beds: Vec<Bed>) -> Result<(), E> {
    beds.par_sort_unstable_by_key(|bed| bed.tile);
    let by_tile: Vec<_> = beds.chunk_by(|a, b| a.tile == b.tile).collect();
    by_tile.into_par_iter().try_for_each(|beds| {
        let window = tiling.window(beds[0].tile as usize);
        let mut patch = Patch::default();
        patch.load(surface, window, f32::NAN)?;
        lower_patch(&mut patch, beds);
        patch.store(surface, window)
    })
}

fn lower_patch(patch: &mut Patch<f32>, beds: &[Bed]) {
    for bed in beds {
        let position = patch.at(bed.number as usize % patch.cols, bed.number as usize / patch.cols);
        patch.values[position] = patch.values[position].min(bed.level);
    }
}
