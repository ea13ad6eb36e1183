//! Results to `GeoJSON` and tables. The only crate that knows the output schemas.
//!
//! Each output layer has a struct of properties here, in the order in which they are written, and a JSON Schema under
//! `schema/`. Geometries are in the projected coordinates of the case; the writer turns them into longitude and latitude.

mod buffer;
mod capacity;
mod crossing;
mod escape;
mod layer;
mod link;
mod overview;
mod palette;
mod parcel;
mod path;
mod pdf;
mod picture;
mod plan;
mod profile;
mod reach;
mod schema;
mod sheet;
mod table;
mod terrain_change;
mod traced;
mod watershed;

pub use buffer::BufferProperties;
pub use capacity::CapacityProperties;
pub use crossing::{CrossingProperties, LandCrossed};
pub use layer::{Record, cubic_metres_per_second, feature, hectares, layer, metres, percent};
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
pub use path::PathProperties;
pub use pdf::{Fonts, MissingGlyph, PdfError, PdfPages};
pub use picture::{deflated_base64, grey_png};
pub use plan::{Plan, kept};
pub use profile::{Grade, MarkKind, Profile, ProfileMark, ProfilePoint, ProfileScale, profile_csv, station};
pub use reach::{ReachProperties, StatusItem};
pub use schema::{SCHEMAS, field_dictionary};
pub use sheet::{
    Block, MapLine, MapParcel, MapPath, MapPicture, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table,
    sheet_svg,
};
pub use table::as_csv_text;
pub use terrain_change::TerrainChangeProperties;
pub use traced::{Traced, TracedWay};
pub use watershed::{WatershedPartProperties, WatershedProperties};

/// What every output says.
pub const CAUTION: &str = "Screening only: not a survey, not a legal opinion. Only a court decides a right; confirm with the \
     municipality, local by-laws and licensed engineers and surveyors. Locate utilities and get permits before any digging.";
