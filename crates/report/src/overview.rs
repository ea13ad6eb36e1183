//! `overview.html`: one file that shows a case in a browser, without network.

mod content;
mod page;

pub use content::{
    ChannelOnPage, ClickGrid, CrossingOnPage, DoubtOnPage, EvidenceOnPage, FlowLineOnPage, Furniture, LimitOnPage,
    Overview, ParcelOnPage, Picture, RoadOnPage, ShareOnPage, SourceFile, StructureOnPage, Texts, WayOnPage,
};
pub use page::overview_page;
