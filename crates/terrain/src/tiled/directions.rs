//! Flow directions tile by tile: steepest fall, flats inside a tile, and the flats that reach into other tiles.

use fallwright_units::{Cell, TileSink, TileSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::flats::{FlatBuffers, Flats, OpenCells};
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

/// What the rest of the raster must know of one tile's flats.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileFlats {
    pub edge: TileEdge,
    pub open: OpenCells,
    /// Channel cells on flats inside the tile from which no water can leave, by position in the patch.
    pub undrained: Vec<usize>,
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
    let mut let_out = Vec::new();
    loop {
        let tiles = tile_flats(tiling, surface, code, known, &let_out)?;
        let undrained = join_flats(tiling, surface, code, known, tiles)?;
        if undrained.is_empty() {
            return Ok(());
        }
        let_out.extend(undrained);
    }
}

/// First step of [`directions`]: sets the directions that each tile itself decides, and tells by tile what the others must
/// know. Channels that run along the edge of the data lose their water at the cells to `let_out`.
///
/// # Errors
/// What reading and writing meet.
pub fn tile_flats<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    code: &impl TileSink<u8, Error = E>,
    known: Known,
    let_out: &[Cell],
) -> Result<Vec<TileFlats>, E> {
    let pool = Pool::<Buffers>::default();
    let mut cells = KnownCells::new(tiling, surface, known)?;
    cells.let_out(tiling, let_out);
    let visit = |tile: usize| {
        pool.with(|Buffers { surface: patch, code: codes, flats }| {
            let window = tiling.window(tile);
            patch.load_with_margin(surface, window, f32::NAN)?;
            steepest(&tiling.frame, patch, codes);
            let known = &cells.tiles[tile];
            let passing = known.apply(patch, codes);
            let backwater = known.backwater();
            let flats_of = Flats { surface: patch, backwater: &backwater, passing: &passing };
            let (open, undrained) = flats_of.resolve_closed(codes, flats);
            codes.store(code, window)?;
            let edge = TileEdge::of(codes, &backwater.outlets, passing);
            Ok(TileFlats { edge, open, undrained })
        })
    };
    (0..tiling.len()).into_par_iter().map(visit).collect()
}

/// Second step of [`directions`]: joins the flats that reach into other tiles, and sets the directions of their cells.
///
/// Returns the channel cells from which no water can leave. These channels lead nowhere; where there are any, `code` is not
/// finished, and both steps are to be done again with their water let out at the edge of the data after all.
///
/// # Errors
/// What reading and writing meet.
pub fn join_flats<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    code: &impl TileSink<u8, Error = E>,
    known: Known,
    tiles: Vec<TileFlats>,
) -> Result<Vec<Cell>, E> {
    let pool = Pool::<Buffers>::default();
    let cells = KnownCells::new(tiling, surface, known)?;
    let in_tiles = tiles.iter().enumerate().flat_map(|(tile, flats)| tiling.cells_at(tile, &flats.undrained));
    let mut undrained: Vec<Cell> = in_tiles.collect();
    let visited = tiles.into_iter().map(|flats| (flats.edge, flats.open)).collect();
    let open = OpenFlats::settle(tiling, visited, &cells, &pool);
    undrained.extend(open.undrained());
    if undrained.is_empty() {
        open.finish(code)?;
    }
    Ok(undrained)
}
