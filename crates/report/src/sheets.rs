//! The content of the page and of sheets, from answers and records.

pub(crate) mod case_sheets;
mod click;
mod doubts;
pub(crate) mod furniture;
pub(crate) mod incoming;
pub(crate) mod letters;
pub(crate) mod maps;
pub(crate) mod names;
pub(crate) mod overview;
mod page_parcels;
pub(crate) mod parcel_sheets;
pub(crate) mod pdfs;
pub(crate) mod petition;
pub(crate) mod profiles;
