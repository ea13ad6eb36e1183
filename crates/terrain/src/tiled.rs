//! The engine: the steps of [`crate::textbook`] tile by tile, with the same answers to the last bit.
//!
//! Each step visits every tile on its own, joins what the tiles' edges say in one small step, and visits every tile again
//! to finish: plain functions over plain data, so that a tile can be worked on by any thread, and tiles can lie in memory
//! or on file ([`TileSource`](fallwright_units::TileSource), [`TileSink`](fallwright_units::TileSink)). No answer depends on
//! the number of threads or the size of tiles.
//!
//! Loops over whole rows are compiled once more for each kind of vector instructions that a processor may have
//! ([`multiversion`]); their arithmetic is the same.
//!
//! [`fill`] (basins, then spill levels), [`pits`] and [`cuts`] (level bottoms, then a search from each), [`directions`]
//! (steepest fall, then flats), [`accumulate`] and [`label`] (ways through a tile, then between tiles).

mod basins;
mod bits;
mod counts;
mod cuts;
mod deltas;
mod directions;
mod filling;
mod flats;
mod known;
mod labels;
mod lowest;
mod open_flats;
mod order;
mod passes;
mod patch;
mod pits;
mod raised;
mod routes;
mod sets;
mod shore;
mod spill;
mod steepest;
mod steps;
mod tiling;
mod words;

pub use basins::{OUTSIDE, TileBasins};
pub use bits::PackedBits;
pub use counts::{Count, TileCounts, accumulate, add_inflows, inflows, tile_counts};
pub use cuts::{Beyond, cuts, lower, lower_beyond};
pub use directions::{TileFlats, directions, join_flats, tile_flats};
pub use filling::{basins, fill, raise, spill_levels};
pub use flats::{OpenCells, RingCell};
pub use known::Known;
pub use labels::{TileLabels, hand_on_labels, label, labels_beyond, tile_labels};
pub use open_flats::TileEdge;
pub use passes::Pass;
pub use pits::{NOT_RAISED, TilePits, join_pits, pits, tile_pits};
pub use raised::{PARTS_A_METRE, Raised};
pub use routes::{STAYS, TileRoutes};
pub use tiling::Tiling;

/// Columns and rows of a tile: its buffers fit a core's cache and its edge is a small part of it (our choice, measured).
pub const TILE_SIDE: usize = 512;
