//! Elevation in; conditioned surface, flow direction, accumulation and watersheds out.
//!
//! Values in, values out: no files, no clock, no knowledge of parcels or law. Elevations are metres above the raster's
//! height datum, `NaN` where there is no data. The work is done tile by tile ([`tiled`]); the straightforward algorithms
//! over the whole raster stay as its oracle ([`textbook`]).
//!
//! Reading order: [`Links`], [`channel_bed`], [`fill`], [`cuts`], [`flow_direction`], [`accumulation`], [`label_upstream`];
//! [`condition`] runs them in their order; [`Shaped`] tells what changes without some cuts.

mod accumulation;
mod channel;
mod condition;
mod cut;
mod depression;
pub mod direction;
mod fill;
mod flow;
mod hillshade;
mod link;
mod revise;
mod shaped;
mod spread;
pub mod textbook;
pub mod tiled;
mod watershed;

#[cfg(test)]
mod tests;

pub use accumulation::{accumulation, accumulation_u32};
pub use channel::{CHANNEL_INCISION_M, channel_bed};
pub use condition::{ConditionError, Conditioned, Conditioning, condition};
pub use cut::{Cut, CutLimits, Storage, Way, cut_beds, cuts, storage};
pub use depression::{Depression, depressions, lowest_cell};
pub use fill::{Filled, fill};
pub use flow::{Flow, flow_direction};
pub use hillshade::hillshade;
pub use link::{Link, Links, LinksError};
pub use revise::Revised;
pub use shaped::Shaped;
pub use spread::{Facet, UNITS_PER_CELL, facet_direction, spread_accumulation};
pub use watershed::label_upstream;
