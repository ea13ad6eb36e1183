//! The questions that a study answers, one file each.

pub(crate) mod arriving;
pub(crate) mod buffers;
pub(crate) mod capacity;
pub(crate) mod constraints;
pub(crate) mod leaving;
pub(crate) mod parcels;
pub(crate) mod petition;
pub(crate) mod petition_area;
pub(crate) mod piped;
pub(crate) mod standing;
pub(crate) mod terrain_changes;
pub(crate) mod watershed;
pub(crate) mod watersheds;
