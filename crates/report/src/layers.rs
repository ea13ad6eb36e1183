//! From answers to the records of each layer.

pub(crate) mod buffers;
pub(crate) mod capacity;
pub(crate) mod constraints;
mod evidence;
pub(crate) mod lands;
pub(crate) mod parcels;
mod parcels_crossed;
pub(crate) mod paths;
pub(crate) mod petition;
pub(crate) mod terrain_changes;
pub(crate) mod traced;
pub(crate) mod water;
pub(crate) mod watershed;
mod ways;
