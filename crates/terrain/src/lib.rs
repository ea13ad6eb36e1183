//! Elevation in; conditioned surface, flow direction, accumulation and watersheds out.
//!
//! Values in, values out: no files, no clock, no knowledge of parcels or law. Elevations are metres above the raster's
//! height datum, `NaN` where there is no data. The work is done tile by tile ([`tiled`]); the straightforward algorithms
//! over the whole raster stay as its oracle ([`textbook`]).
//!
//! Reading order: [`Links`], [`channel_bed`], [`fill`], [`tiled::Cutting`], [`flow_direction`], [`accumulation`],
//! [`label_upstream`]; [`condition_in`] runs them in their order, over rasters in memory or in a [`Store`]; [`RevisionBase`]
//! finds what changes without some cuts.

// Each group builds on those above it.

// Types.
mod cut;
mod depression;
pub mod direction;
mod flow;
mod link;
mod surface;

// Steps: over squares and tiles, and one cell after the other.
mod cut_search;
pub mod textbook;
pub mod tiled;

// One step over a raster in memory.
mod accumulation;
mod channel;
mod channel_course;
mod fill;
mod flow_direction;
mod hillshade;
mod kept_pool;
mod spread;
mod watershed;

// All steps in their order.
mod condition;
mod revise;
mod revision_base;
mod store;

#[cfg(test)]
mod tests;

pub use accumulation::{accumulation, accumulation_u32};
pub use channel::{CHANNEL_INCISION_M, channel_bed};
pub use condition::{ConditionError, Conditioned, ConditionedIn, Conditioning, Keep, condition, condition_in};
pub use cut::{Cut, CutLimits, CutPath};
pub use cut_search::{Storage, storage};
pub use depression::{Depression, depressions, lowest_cell};
pub use fill::fill;
pub use flow::Flow;
pub use flow_direction::flow_direction;
pub use hillshade::hillshade;
pub use kept_pool::{KeptPool, kept_pools};
pub use link::{Link, Links, LinksError};
pub use revise::Revised;
pub use revision_base::RevisionBase;
pub use spread::{Facet, UNITS_PER_CELL, facet_direction, spread_accumulation};
pub use store::{ConditioningStep, Memory, Store, StoredValue};
pub use surface::Filled;
pub use watershed::label_upstream;
