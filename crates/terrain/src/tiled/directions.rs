//! Flow directions tile by tile: steepest fall, flats inside a tile, and the flats that reach into other tiles.

use fallwright_units::{Cell, TileSink, TileSource};
use rayon::prelude::*;

use super::flats::{FlatBuffers, Flats};
use super::known::{Known, KnownCells};
use super::open_flats::{OpenFlats, TileEdge};
use super::patch::{Patch, Pool};
use super::steepest::steepest;
use super::tiling::Tiling;

/// Buffers of one tile.
#[derive(Default)]
pub(super) struct Buffers {
    pub(super) surface: Patch<f32>,
    pub(super) code: Patch<u8>,
    pub(super) flats: FlatBuffers,
}

/// Sets each cell's direction; the same codes as [`crate::textbook::flow_direction`] gives.
///
/// *Complexity*: O(n) for n cells, tiles in parallel; the flats of a tile that reach into other tiles once more for each time
/// that the steps at its edge fall.
///
/// # Errors
/// What reading and writing meet.
pub fn directions<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    code: &impl TileSink<u8, Error = E>,
    known: Known,
) -> Result<(), E> {
    let pool = Pool::<Buffers>::default();
    let mut cells = KnownCells::new(tiling, surface, known)?;
    let (open, undrained) = settle(tiling, surface, code, &cells, &pool)?;
    if undrained.is_empty() {
        return open.finish(code);
    }
    // These channels lead nowhere: their water leaves at the edge of the data after all.
    cells.let_out(tiling, &undrained);
    settle(tiling, surface, code, &cells, &pool)?.0.finish(code)
}

/// The flats that reach into other tiles, with their steps known; and the cells of channels along the edge of the data
/// from which no water can leave.
fn settle<'a, E: Send>(
    tiling: &'a Tiling,
    surface: &impl TileSource<f32, Error = E>,
    code: &impl TileSink<u8, Error = E>,
    cells: &'a KnownCells,
    pool: &'a Pool<Buffers>,
) -> Result<(OpenFlats<'a>, Vec<Cell>), E> {
    let first_visit = |tile: usize| {
        pool.with(|Buffers { surface: patch, code: codes, flats }| {
            let window = tiling.window(tile);
            patch.load_with_margin(surface, window, f32::NAN)?;
            steepest(&tiling.frame, patch, codes);
            let known = &cells.tiles[tile];
            let passing = known.apply(patch, codes);
            let backwater = known.backwater();
            let flats_of = Flats { surface: patch, backwater: &backwater };
            let (open, mut undrained) = flats_of.resolve_closed(codes, flats);
            undrained.retain(|cell| passing.contains(cell));
            codes.store(code, window)?;
            let edge = TileEdge::of(patch, codes, &backwater.outlets, passing);
            Ok(((edge, open), tiling.cells_at(tile, &undrained)))
        })
    };
    let visited: Vec<_> = (0..tiling.len()).into_par_iter().map(first_visit).collect::<Result<_, E>>()?;
    let (visited, undrained): (Vec<_>, Vec<Vec<Cell>>) = visited.into_iter().unzip();
    let open = OpenFlats::settle(tiling, visited, cells, pool);
    let undrained = [undrained.concat(), open.undrained()].concat();
    Ok((open, undrained))
}
