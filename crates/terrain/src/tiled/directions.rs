//! Flow directions tile by tile: steepest fall, flats inside a tile, and the flats that reach into other tiles.

use fallwright_units::{Cell, TileSink, TileSource};
use rayon::prelude::*;

use super::flat_tasks::{FlatReply, FlatTask};
use super::flats::{FlatBuffers, Flats, TileFlats};
use super::flow_constraints::{ConstrainedCells, FlowConstraints};
use super::open_flats::OpenFlats;
use super::patch::{Patch, Pool};
use super::shared_steps::SharedSteps;
use super::steepest::steepest;
use super::tiling::Tiling;
use crate::direction;

/// Sets each cell's direction; the same codes as [`crate::textbook::flow_direction`] gives.
///
/// *Method*: each tile sets the directions that it decides itself ([`Directions::solve`]). The flats that reach into other
/// tiles are then searched in rounds: a tile spreads the shorter ways that lead in from its neighbours over its flats, and
/// reports the steps of its own edge ([`Directions::spread`]), until no way is shorter ([`OpenFlats`]). Last, their cells get
/// their directions ([`Directions::finish`]).
///
/// A channel that leads nowhere loses its water at the edge of the data after all: everything is done again with that.
///
/// *Complexity*: O(n) for n cells, tiles in parallel; the flats of a tile that reach into other tiles once more for each time
/// that the steps at its edge fall.
///
/// # Errors
/// Failures of reading and writing.
pub fn directions<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    code: &impl TileSink<u8, Error = E>,
    constraints: FlowConstraints,
) -> Result<(), E> {
    let mut directions = Directions::new(tiling, surface, constraints)?;
    loop {
        let mut open = directions.join(tiling.each_tile(|tile| directions.solve(tile, surface, code))?);
        while let Some(due) = open.due() {
            let visit = |&tile: &usize| Some((tile, directions.spread(open.task(tile)?)));
            let found = due.par_iter().filter_map(visit).collect();
            open.take(found);
        }
        let undrained = open.undrained();
        if undrained.is_empty() {
            let tiles: Vec<usize> = open.tiles().collect();
            return tiles.into_par_iter().try_for_each(|tile| directions.finish(tile, code, &open.reply(tile)));
        }
        drop(open);
        directions.let_out(&undrained);
    }
}

/// The steps of [`directions`], for one tile at a time: [`Self::solve`] each tile and [`Self::join`] what they report; while
/// any tile is due ([`OpenFlats::due`]), [`Self::spread`] the task of each and give the answers back ([`OpenFlats::take`]);
/// [`Self::finish`] each tile that has open flats with its reply. Where cells are left undrained, [`Self::let_out`] their water
/// and begin again.
#[derive(Debug)]
pub struct Directions<'a> {
    tiling: &'a Tiling,
    cells: ConstrainedCells,
    pool: Pool<Buffers>,
}

/// Buffers of one tile.
#[derive(Debug, Default)]
struct Buffers {
    surface: Patch<f32>,
    code: Patch<u8>,
    flats: FlatBuffers,
}

impl<'a> Directions<'a> {
    /// # Errors
    /// Failures of reading.
    pub fn new<E>(
        tiling: &'a Tiling,
        surface: &impl TileSource<f32, Error = E>,
        constraints: FlowConstraints,
    ) -> Result<Self, E> {
        Ok(Self { tiling, cells: ConstrainedCells::new(tiling, surface, constraints)?, pool: Pool::default() })
    }

    /// Lets the water of channels that run along the edge of the data out at some of their cells.
    pub fn let_out(&mut self, cells: &[Cell]) {
        self.cells.let_out(self.tiling, cells);
    }

    /// First step: sets the directions that a tile itself decides.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn solve<E>(
        &self,
        tile: usize,
        surface: &impl TileSource<f32, Error = E>,
        code: &impl TileSink<u8, Error = E>,
    ) -> Result<TileFlats, E> {
        self.pool.with(|Buffers { surface: patch, code: codes, flats }| {
            let window = self.tiling.window(tile);
            patch.load_with_margin(surface, window, f32::NAN)?;
            steepest(&self.tiling.frame, patch, codes);
            let constraints = &self.cells.tiles[tile];
            let passing = constraints.apply(patch, codes);
            let found =
                Flats { surface: patch, backwater: constraints.backwater(), passing }.resolve_closed(codes, flats);
            codes.store(code, window)?;
            Ok(found)
        })
    }

    /// Second step: the flats that reach into other tiles, to be searched in rounds.
    pub fn join(&self, tiles: Vec<TileFlats>) -> OpenFlats<'_> {
        OpenFlats::new(self.tiling, &self.cells, tiles)
    }

    /// One tile's part of a round: spreads shorter ways over its flats. No raster is read for it.
    pub fn spread(&self, task: FlatTask) -> SharedSteps {
        self.pool.with(|Buffers { flats, .. }| task.spread(flats))
    }

    /// Last step: sets the directions of the cells on a tile's open flats.
    ///
    /// # Errors
    /// Failures of reading and writing.
    pub fn finish<E>(&self, tile: usize, code: &impl TileSink<u8, Error = E>, reply: &FlatReply) -> Result<(), E> {
        self.pool.with(|Buffers { code: codes, flats, .. }| {
            let window = self.tiling.window(tile);
            codes.load(code, window, direction::NODATA)?;
            reply.resolve(self.tiling.ring(tile), codes, flats);
            codes.store(code, window)
        })
    }
}
