//! Results to `GeoJSON`, tables and sentences. The only crate that knows the output schemas.
//!
//! Each output layer has a struct of properties here, in the order in which they are written; the JSON Schemas under `schema/`
//! and the field dictionary are derived from these structs and their comments. Geometries are in the projected coordinates of the case; the writer turns them into longitude and latitude.

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
mod run_record;
mod schema;
mod sheets;
mod tables;
pub mod terminal;
pub mod words;
mod write;

pub use case_records::CaseRecords;
pub use drawing::{
    Block, MapLine, MapParcel, MapPath, MapPicture, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table,
    sheet_svg,
};
pub use error::WriteError;
pub(crate) use fallwright_units::{
    rounded_cubic_metres_per_second as cubic_metres_per_second, rounded_hectares as hectares, rounded_metres as metres,
    rounded_percent as percent,
};
pub use layer::{Record, feature, layer};
pub use layers::parcels::ParcelLayer;
pub use layers::traced::{arriving_features, leaving_features};
pub use overview::{
    ChannelOnPage, ClickGrid, CrossingOnPage, DoubtOnPage, EvidenceOnPage, FlowLineOnPage, Furniture, LimitOnPage,
    Overview, ParcelOnPage, Picture, RoadOnPage, ShareOnPage, SourceFile, StructureOnPage, Texts, WayOnPage,
    overview_page,
};
pub use palette::{standing_style, waterway_style};
pub use pdf::{Fonts, MissingGlyph, PdfError, PdfPages};
pub use picture::{deflated_base64, grey_png};
pub use plan::{Plan, kept};
pub use profile::{Grade, MarkKind, Profile, ProfileMark, ProfilePoint, ProfileScale, station};
pub use rasters::{Output, SPREAD, area_meta, direction_meta, ground_meta, write_spread};
pub use records::buffer::{BufferProperties, MeasuredFrom};
pub use records::capacity::CapacityProperties;
pub use records::crossing::{CrossingProperties, LandCrossed};
pub use records::link::LinkProperties;
pub use records::parcel::{
    AreaItem, ConsentItem, EvidenceItem, FieldHectares, ParcelProperties, PipedItem, Received, ScheduleItem, ShareItem,
    WayItem,
};
pub use records::path::{PathEnd, PathProperties};
pub use records::reach::{ReachProperties, StatusItem};
pub use records::run::{FileDigest, RunProperties, Warning};
pub use records::terrain_change::{ChangeKind, TerrainChangeProperties};
pub use records::traced::{Traced, TracedWay};
pub use records::watershed::{WatershedPartProperties, WatershedProperties};
pub use run_record::{RunRecord, digest, input_digests, settings_of};
pub use schema::{field_dictionary, schemas};
pub use sheets::pdfs::Pdfs;
pub use tables::{Decimal, FallRow, Millis, ProfileRow, Text, WatershedLandRow, WatershedParcelRow, profile_csv};
pub use write::{
    OutletsExtras, SheetParcels, SheetsOptions, SheetsWritten, WatershedWritten, write_capacity, write_outlets,
    write_sheets, write_watershed,
};

/// What every output says.
pub const CAUTION: &str = "Screening only: not a survey, not a legal opinion. Only a court decides a right; confirm with the \
     municipality, local by-laws and licensed engineers and surveyors. Locate utilities and get permits before any digging.";
