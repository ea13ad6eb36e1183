//! Results to `GeoJSON`, tables and sentences. The only crate that knows the output schemas.
//!
//! Each output layer has a struct of properties here, in the order in which they are written; the JSON Schemas under `schema/`
//! and the field dictionary are derived from these structs and their comments. Geometries are in the projected coordinates of the case; the writer turns them into longitude and latitude.

mod buffer;
mod capacity;
pub mod counts;
mod crossing;
mod error;
mod escape;
mod layer;
mod layers;
mod link;
mod overview;
mod palette;
mod parcel;
mod path;
mod pdf;
mod picture;
mod plan;
mod profile;
mod rasters;
mod reach;
mod records;
mod run;
mod run_record;
mod schema;
mod sheet;
mod sheets;
mod tables;
pub mod terminal;
mod terrain_change;
mod traced;
mod watershed;
pub mod words;
mod write;

pub use buffer::{BufferProperties, MeasuredFrom};
pub use capacity::CapacityProperties;
pub use crossing::{CrossingProperties, LandCrossed};
pub use error::WriteError;
pub(crate) use fallwright_units::{
    rounded_cubic_metres_per_second as cubic_metres_per_second, rounded_hectares as hectares, rounded_metres as metres,
    rounded_percent as percent,
};
pub use layer::{Record, feature, layer};
pub use layers::parcels::ParcelLayer;
pub use layers::traced::{arriving_features, leaving_features};
pub use link::LinkProperties;
pub use overview::{
    ChannelOnPage, ClickGrid, CrossingOnPage, DoubtOnPage, EvidenceOnPage, FlowLineOnPage, Furniture, LimitOnPage,
    Overview, ParcelOnPage, Picture, RoadOnPage, ShareOnPage, SourceFile, StructureOnPage, Texts, WayOnPage,
    overview_page,
};
pub use palette::{standing_style, waterway_style};
pub use parcel::{
    AreaItem, ConsentItem, EvidenceItem, FieldHectares, ParcelProperties, PipedItem, Received, ScheduleItem, ShareItem,
    WayItem,
};
pub use path::{PathEnd, PathProperties};
pub use pdf::{Fonts, MissingGlyph, PdfError, PdfPages};
pub use picture::{deflated_base64, grey_png};
pub use plan::{Plan, kept};
pub use profile::{Grade, MarkKind, Profile, ProfileMark, ProfilePoint, ProfileScale, station};
pub use rasters::{Output, SPREAD, area_meta, direction_meta, ground_meta, write_spread};
pub use reach::{ReachProperties, StatusItem};
pub use records::CaseRecords;
pub use run::{FileDigest, RunProperties, Warning};
pub use run_record::{RunRecord, digest, input_digests, settings_of};
pub use schema::{field_dictionary, schemas};
pub use sheet::{
    Block, MapLine, MapParcel, MapPath, MapPicture, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table,
    sheet_svg,
};
pub use sheets::pdfs::Pdfs;
pub use tables::{Decimal, FallRow, Millis, ProfileRow, Text, WatershedLandRow, WatershedParcelRow, profile_csv};
pub use terrain_change::{ChangeKind, TerrainChangeProperties};
pub use traced::{Traced, TracedWay};
pub use watershed::{WatershedPartProperties, WatershedProperties};
pub use write::{
    OutletsExtras, SheetParcels, SheetsOptions, SheetsWritten, WatershedWritten, write_capacity, write_outlets,
    write_sheets, write_watershed,
};

/// What every output says.
pub const CAUTION: &str = "Screening only: not a survey, not a legal opinion. Only a court decides a right; confirm with the \
     municipality, local by-laws and licensed engineers and surveyors. Locate utilities and get permits before any digging.";
