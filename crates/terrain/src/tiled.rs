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
mod flow_constraints;
mod labels;
mod lowest;
mod open_flats;
mod order;
mod passes;
mod patch;
mod pit_depressions;
mod pits;
mod raised;
mod routes;
mod sets;
mod shore;
mod simd_lanes;
mod spill;
mod steepest;
mod steps;
mod tiling;

pub use basins::{OUTSIDE, TileBasins};
pub use bits::PackedBits;
pub use counts::{Count, Counting, TileCounts, accumulate};
pub use cuts::{Bed, Cutting, lower, lower_tile};
pub use directions::{Directions, TileFlats, directions};
pub use filling::{FillError, Filling, fill};
pub use flats::{OpenCells, RingCell, SharedSteps};
pub use flow_constraints::FlowConstraints;
pub use labels::{Labelling, TileLabels, label};
pub use open_flats::{FlatReply, FlatTask, OpenFlats, TileEdge};
pub use passes::Pass;
pub(crate) use patch::{value, with_margin};
pub use pit_depressions::{PitDepressions, TileDepressions, pit_depressions};
pub use pits::{NOT_RAISED, Pits, TilePits, pits};
pub use raised::{PARTS_A_METRE, Raised, TileRaised, raised};
pub use routes::{STAYS, TileRoutes};
pub use tiling::{Place, Ring, Tiling};

/// Columns and rows of a tile: its buffers fit a core's cache and its edge is a small part of it (our choice, measured).
pub const TILE_SIDE: usize = 512;
