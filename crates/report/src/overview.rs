//! `overview.html`: one file that shows a case in a browser, without network.

mod content;
mod page;

pub(crate) use content::{
    ChannelOnPage, ClickGrid, DoubtOnPage, EvidenceOnPage, FlowLineOnPage, Furniture, LimitOnPage, Overview,
    ParcelOnPage, Picture, RoadOnPage, ShareOnPage, SourceFile, StructureOnPage, Texts, WaterOnPage, WayOnPage,
};
pub(crate) use page::overview_page;
