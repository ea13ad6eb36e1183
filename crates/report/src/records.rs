//! A struct of properties for each layer and record: the published schemas and the field dictionary are derived from them.

pub(crate) mod buffer;
pub(crate) mod capacity;
pub(crate) mod constraint;
pub(crate) mod crossing;
pub(crate) mod land;
pub(crate) mod link;
pub(crate) mod parcel;
pub(crate) mod path;
pub(crate) mod petition;
pub(crate) mod reach;
pub(crate) mod run;
pub(crate) mod terrain_change;
pub(crate) mod traced;
pub(crate) mod watershed;
