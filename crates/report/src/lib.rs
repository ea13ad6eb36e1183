//! From typed answers to files and words: the only home of output schemas and sentences.
//!
//! Reading order: `write` holds which files each command writes; `records` the properties of each layer, from which the JSON Schemas
//! and the field dictionary are derived; `layers` makes records of answers, `tables` rows of CSV; [`terminal`] is what a command
//! prints, [`words`] names, numbers and sentences. `sheets` makes the content of the page and of sheets, `profile` that of
//! profiles; `overview`, `drawing` and `pdf` draw it. Geometries are in the projected coordinates of the case; the writer turns them into longitude and
//! latitude.

mod case_records;
mod caution;
pub mod counts;
mod drawing;
mod earlier_petition;
mod error;
mod escape;
mod layer;
mod layers;
mod overview;
mod palette;
mod pdf;
mod picture;
mod plan;
mod profile;
mod rasters;
mod record_schema;
mod records;
mod relief;
mod result_set;
mod rounded;
mod rules_page;
mod run_record;
mod schema;
mod sheets;
mod tables;
pub mod terminal;
pub mod words;
mod write;

pub use case_records::CaseRecords;
pub use caution::CAUTION;
pub use drawing::{Paper, Sheet};
pub use earlier_petition::read_stage;
pub use error::WriteError;
pub use layer::Record;
pub use layers::traced::{arriving_features, leaving_features};
pub use rasters::{Output, SPREAD, area_meta, direction_meta, ground_meta, write_spread};
pub use records::petition::{PetitionRecord, StageRecord};
pub use records::watershed::WatershedPartProperties;
pub use result_set::verify_results;
pub use rules_page::rules_page;
pub use run_record::{RunRecord, digest};
pub use schema::{field_dictionary, schemas};
pub use sheets::pdfs::Pdfs;
pub use write::{
    OutletsExtras, PetitionOptions, PetitionWritten, SheetParcels, SheetsOptions, SheetsWritten, WatershedWritten,
    write_capacity, write_outlets, write_petition, write_sheets, write_watershed,
};
