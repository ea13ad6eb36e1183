//! The filled depression that each pit lies in, tile by tile.

use fallwright_units::{Cell, TileSource};
use serde::{Deserialize, Serialize};

use super::patch::{Patch, Pool};
use super::raised::{EdgeAreas, JoinedAreas, RaisedBuffers};
use super::tiling::Tiling;

/// For each pit, in the order that [`super::pits`] gives, the first cell of its filled depression: the connected raised cells
/// that it is one of.
///
/// *Complexity*: O(n) for n cells, tiles in parallel.
///
/// # Errors
/// Failures of reading.
pub fn pit_depressions<E: Send>(
    tiling: &Tiling,
    surface: &impl TileSource<f32, Error = E>,
    filled: &impl TileSource<f32, Error = E>,
    pits: &[Vec<u32>],
) -> Result<Vec<Vec<Cell>>, E> {
    let depressions = PitDepressions::new(tiling);
    let tiles = tiling.each_tile(|tile| depressions.solve(tile, surface, filled, &pits[tile]))?;
    Ok(depressions.join(&tiles))
}

/// The steps of [`pit_depressions`], for one tile at a time: [`Self::solve`] each tile and [`Self::join`] what they report.
#[derive(Debug)]
pub struct PitDepressions<'a> {
    tiling: &'a Tiling,
    pool: Pool<(Patch<f32>, Patch<f32>, RaisedBuffers)>,
}

/// The depressions of one tile's pits, as far as the tile itself decides.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TileDepressions {
    edge: EdgeAreas,
    /// The first cell in the tile of each raised area along its edge, as `row * cols + col` of the tile.
    first: Vec<u32>,
    pits: Vec<Depression>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
enum Depression {
    /// Inside the tile, by its first cell.
    Inner(u32),
    /// Along the edge, by the position of its area there.
    AtEdge(u32),
}

impl<'a> PitDepressions<'a> {
    pub fn new(tiling: &'a Tiling) -> Self {
        Self { tiling, pool: Pool::default() }
    }

    /// First step.
    ///
    /// # Errors
    /// Failures of reading.
    pub fn solve<E>(
        &self,
        tile: usize,
        surface: &impl TileSource<f32, Error = E>,
        filled: &impl TileSource<f32, Error = E>,
        pits: &[u32],
    ) -> Result<TileDepressions, E> {
        let window = self.tiling.window(tile);
        self.pool.with(|(before, after, areas)| {
            before.load(surface, window, f32::NAN)?;
            after.load(filled, window, f32::NAN)?;
            let first: Vec<u32> = areas.label(before, after).into_iter().map(|cell| before.number(cell)).collect();
            let (edge, at_edge) = areas.along_edge(&self.tiling.ring(tile));
            let depression = |&pit: &u32| {
                let (col, row) = (pit as usize % window.cols, pit as usize / window.cols);
                let area = areas.area.values[before.at(col, row)];
                match at_edge.binary_search(&area) {
                    Ok(place) => Depression::AtEdge(place as u32),
                    Err(_) => Depression::Inner(first[area as usize - 1]),
                }
            };
            let pits = pits.iter().map(depression).collect();
            Ok(TileDepressions { edge, first: at_edge.iter().map(|&area| first[area as usize - 1]).collect(), pits })
        })
    }

    /// Second step: a depression in several tiles has the first of its parts' first cells.
    ///
    /// *Complexity*: O(e + p) for e cells along the edges of tiles and p pits.
    pub fn join(&self, tiles: &[TileDepressions]) -> Vec<Vec<Cell>> {
        let edges: Vec<&EdgeAreas> = tiles.iter().map(|tile| &tile.edge).collect();
        let mut joined = JoinedAreas::new(self.tiling, &edges);
        let mut first = vec![Cell(usize::MAX); joined.len()];
        for (tile, found) in tiles.iter().enumerate() {
            for (area, &cell) in found.first.iter().enumerate() {
                let whole = joined.whole(tile, area);
                first[whole] = first[whole].min(self.tiling.numbered(tile, cell));
            }
        }
        let mut first_cell = |tile: usize, depression: Depression| match depression {
            Depression::Inner(cell) => self.tiling.numbered(tile, cell),
            Depression::AtEdge(area) => first[joined.whole(tile, area as usize)],
        };
        let mut of_tile = |(tile, found): (usize, &TileDepressions)| {
            found.pits.iter().map(|&depression| first_cell(tile, depression)).collect()
        };
        tiles.iter().enumerate().map(&mut of_tile).collect()
    }
}
