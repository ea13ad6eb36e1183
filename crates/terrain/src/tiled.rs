//! The engine: the steps of [`crate::textbook`] tile by tile, with the same answers to the last bit.
//!
//! Each step is a type that holds what all tiles share, with one shape: `solve` a tile, which gives a message; `join` the
//! messages of all tiles, which gives each a reply; `finish` a tile with its reply. Messages and replies are plain data, and a
//! tile's part needs nothing else of the steps before it: it can be worked on by any thread or process, and tiles can lie in
//! memory or on file ([`TileSource`](fallwright_units::TileSource), [`TileSink`](fallwright_units::TileSink)). Flats that
//! reach into other tiles are searched in rounds, each a task and an answer of the same kind. No answer depends on the number
//! of threads or the size of tiles.
//!
//! A function beside each type does the step for all tiles, in parallel:
//!
//! | all tiles | one tile | what tiles report |
//! |---|---|---|
//! | [`fill`] | [`Filling`] | basins along the edge and the passes between them |
//! | [`pits`], [`pit_depressions`] | [`Pits`], [`PitDepressions`] | level bottoms and raised areas along the edge |
//! | [`lower`] | [`Cutting`] | beds of cuts that lie in other tiles |
//! | [`directions`] | [`Directions`], [`OpenFlats`] | codes along the edge, steps over open flats |
//! | [`accumulate`] | [`Counting`] | routes through the tile, cells that drain out of it |
//! | [`label`] | [`Labelling`] | routes through the tile, labels on them |
//!
//! Loops over whole rows are compiled once more for each kind of vector instructions that a processor may have
//! ([`multiversion`]); their arithmetic is the same.

mod basins;
mod bits;
mod counts;
mod cuts;
mod deltas;
mod directions;
mod filling;
mod flat_tasks;
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
mod shared_steps;
mod shore;
mod simd_lanes;
mod spill;
mod steepest;
mod steps;
mod tiling;

pub use basins::{OUTSIDE, TileBasins};
pub use bits::PackedBits;
pub use counts::{Count, Counting, TileCounts, accumulate};
pub use cuts::{Bed, Cutting, lower};
pub use directions::{Directions, directions};
pub use filling::{FillError, Filling, fill};
pub use flat_tasks::{FlatReply, FlatTask};
pub use flats::{OpenCells, RingCell, TileEdge, TileFlats};
pub use flow_constraints::FlowConstraints;
pub use labels::{Labelling, TileLabels, label};
pub use open_flats::OpenFlats;
pub use passes::Pass;
pub(crate) use patch::{value, with_margin};
pub use pit_depressions::{PitDepressions, TileDepressions, pit_depressions};
pub use pits::{NOT_RAISED, Pits, TilePits, pits};
pub use raised::{PARTS_A_METRE, Raised, TileRaised, raised};
pub use routes::{STAYS, TileRoutes};
pub use shared_steps::SharedSteps;
pub use tiling::{Ring, TilePlace, Tiling};

/// Columns and rows of a tile: its buffers fit a core's cache and its edge is a small part of it (our choice, measured).
pub const TILE_SIDE: usize = 512;
