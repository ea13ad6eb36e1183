//! Answers into an output folder: which files each command writes.

mod capacity;
mod outlets;
mod petition;
mod sheets;
mod watershed;

pub use capacity::write_capacity;
pub use outlets::{OutletsExtras, write_outlets};
pub use petition::{PetitionOptions, PetitionWritten, write_petition};
pub use sheets::{SheetParcels, SheetsOptions, SheetsWritten, write_sheets};
pub use watershed::{WatershedWritten, write_watershed};
