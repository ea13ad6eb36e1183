//! Quantities with their units, identifiers and grid positions: the vocabulary that every other crate shares.
//!
//! Nothing here reads, writes or computes terrain, land or law.

mod cell_map;
mod cell_set;
mod grid;
mod ids;
mod label_runs;
mod partial_date;
mod positions;
mod quantity;
mod rounded;
mod structure_kind;
mod us_customary;
mod window;

pub use cell_map::CellMap;
pub use cell_set::CellSet;
pub use grid::{Cell, Frame, FrameError, NEIGHBOURS, Raster};
pub use ids::{FieldId, LinkId, ParcelId, ReachId, RoadId, WaterwayId};
pub use label_runs::LabelRuns;
pub use partial_date::{NotADate, PartialDate};
pub use positions::{ConstraintIx, MappedStructureIx, ParcelIx, ReachIx, RoadIx, ShareIx, StructureIx, WaterwayIx};
pub use quantity::{
    CubicMetresPerSecond, Hectares, Hours, Metres, MetresPerSecond, Millimetres, MillimetresPerDay, MillimetresPerHour,
    NotFinite, SQUARE_METRES_PER_HECTARE, Slope, SquareMetres, VerticalUnit,
};
pub use rounded::{rounded_cubic_metres_per_second, rounded_hectares, rounded_metres, rounded_percent};
pub use structure_kind::StructureKind;
pub use us_customary::{
    CUBIC_METRES_PER_CUBIC_FOOT, HECTARES_PER_ACRE, HECTARES_PER_SQUARE_MILE, METRES_PER_FOOT, MILLIMETRES_PER_INCH,
};
pub use window::{SharedRaster, TileSink, TileSource, Window};
