//! Quantities with their units, identifiers and grid positions: the vocabulary that every other crate shares.
//!
//! Nothing here reads, writes or computes terrain, land or law.

mod cell_map;
mod grid;
mod ids;
mod quantity;

pub use cell_map::CellMap;
pub use grid::{Cell, Frame, FrameError, NEIGHBOURS, Raster};
pub use ids::{FieldId, LinkId, ParcelId, ReachId, WaterwayId};
pub use quantity::{Hectares, Metres, NotFinite, SQUARE_METRES_PER_HECTARE, VerticalUnit};
