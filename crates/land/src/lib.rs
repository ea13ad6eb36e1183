//! Parcels, waterways and roads as geometry: which cells they cover, where they overlap, how far they abut.
//!
//! Coordinates are `(x, y)` in metres of one projected coordinate reference system. No elevation, no law.
//!
//! Reading order: [`cover`] and [`close_gaps`] put polygons on cells, [`cells_along`] lines; [`DrawnLines`] finds lines drawn
//! twice; [`overlaps`] finds parcels
//! that claim the same ground; [`frontage`] measures how a parcel abuts a line, and [`LandIndex`] finds what lies
//! between; [`ShapeIndex`] finds which areas and lines a path meets.

mod between;
mod buffer;
mod coincide;
mod cover;
mod frontage;
mod gaps;
mod line_cells;
mod met;
mod overlap;

pub use between::{Between, LandBetween, LandIndex};
pub use buffer::{Strip, strips};
pub use coincide::{AlongOther, DrawnLines};
pub use cover::{cells_inside, cover};
pub use frontage::{Abutting, Bed, BedIx, frontage};
pub use gaps::close_gaps;
pub use line_cells::cells_along;
pub use met::{Extent, Shape, ShapeIndex, Stretch, points_at};
pub use overlap::{Overlap, mean_width, overlaps};
