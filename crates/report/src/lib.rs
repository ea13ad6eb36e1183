//! From typed answers to files and words: the only home of output schemas and sentences.
//!
//! Reading order: `write` holds which files each command writes; `records` the properties of each layer, from which the JSON Schemas
//! and the field dictionary are derived; `layers` makes records of answers, `tables` rows of CSV; [`terminal`] is what a command
//! prints, [`words`] names, numbers and sentences. `sheets` makes the content of the page and of sheets; `overview`, `drawing`,
//! `profile` and `pdf` draw it. Geometries are in the projected coordinates of the case; the writer turns them into longitude and
//! latitude.

mod case_records;
pub mod counts;
mod drawing;
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
mod records;
mod result_set;
mod rules_page;
mod run_record;
mod schema;
mod sheets;
mod tables;
pub mod terminal;
pub mod words;
mod write;

pub use case_records::CaseRecords;
pub use drawing::{Paper, Sheet};
pub use error::WriteError;
pub use layer::Record;
pub use layers::traced::{arriving_features, leaving_features};
pub use rasters::{Output, SPREAD, area_meta, direction_meta, ground_meta, write_spread};
pub use records::watershed::WatershedPartProperties;
pub use result_set::verify_results;
pub use rules_page::rules_page;
pub use run_record::{RunRecord, digest};
pub use schema::{field_dictionary, schemas};
pub use sheets::pdfs::Pdfs;
pub use write::{
    OutletsExtras, SheetParcels, SheetsOptions, SheetsWritten, WatershedWritten, write_capacity, write_outlets,
    write_sheets, write_watershed,
};

pub(crate) use drawing::{
    Block, MapLine, MapParcel, MapPath, MapPicture, MapSign, Outline, SheetMap, SignKind, Table, paged, sheet_svg,
};
pub(crate) use fallwright_units::{
    rounded_cubic_metres_per_second as cubic_metres_per_second, rounded_hectares as hectares, rounded_metres as metres,
    rounded_percent as percent,
};
pub(crate) use layer::{feature, layer};
pub(crate) use overview::{
    ChannelOnPage, ClickGrid, DoubtOnPage, EvidenceOnPage, FlowLineOnPage, Furniture, LimitOnPage, Overview,
    ParcelOnPage, Picture, RoadOnPage, ShareOnPage, SourceFile, StructureOnPage, Texts, WayOnPage, overview_page,
};
pub(crate) use palette::{standing_style, waterway_style};
pub(crate) use pdf::{Fonts, MissingGlyph, PdfError, PdfPages};
pub(crate) use picture::{deflated_base64, grey_png};
pub(crate) use plan::{Plan, kept};
pub(crate) use profile::{Grade, MarkKind, Profile, ProfileMark, ProfilePoint, station};
pub(crate) use records::buffer::{BufferProperties, MeasuredFrom};
pub(crate) use records::capacity::CapacityProperties;
pub(crate) use records::crossing::{CrossingProperties, LandCrossed};
pub(crate) use records::land::LandItem;
pub(crate) use records::link::LinkProperties;
pub(crate) use records::parcel::{
    AreaItem, ConsentItem, EvidenceItem, FieldHectares, LandMetres, ParcelHectares, ParcelProperties, PipedItem,
    Received, ReceivedPiped, ScheduleItem, ShareItem, WayItem,
};
pub(crate) use records::path::{PathEnd, PathProperties, WaterCode};
pub(crate) use records::reach::{ReachProperties, StatusItem};
pub(crate) use records::run::{FileDigest, RunProperties, Warning};
pub(crate) use records::terrain_change::{ChangeKind, TerrainChangeProperties};
pub(crate) use records::traced::{FromLand, Stretch, Traced, TracedWay};
pub(crate) use records::watershed::WatershedProperties;
pub(crate) use tables::{FallRow, ProfileRow, WatershedLandRow, WatershedParcelRow, profile_csv};

/// What every output says.
pub const CAUTION: &str = "Screening only: not a survey, not a legal opinion. Only a court decides a right; confirm with the \
     municipality, local by-laws and licensed engineers and surveyors. Locate utilities and get permits before any digging.";
