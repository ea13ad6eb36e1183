//! Tables as CSV: a struct for the rows of each, its fields the columns.

mod capacity;
mod cells;
mod csv_text;
pub(crate) mod fall;
pub(crate) mod petition;
mod profile;
mod rows;
pub(crate) mod watershed_lands;
pub(crate) mod watershed_parcels;
pub(crate) mod workbook;

pub(crate) use capacity::capacity_csv;
pub(crate) use fall::FallRow;
pub(crate) use profile::{ProfileRow, profile_csv};
pub(crate) use watershed_lands::WatershedLandRow;
pub(crate) use watershed_parcels::WatershedParcelRow;
