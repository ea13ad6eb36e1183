//! Land on terrain: where every parcel's water leaves, whose land it crosses, which mapped waterways carry it and where it
//! ends.
//!
//! Knows parcels and waterways as cells, the flow over them, and which mapped features are lawful outlets; what a parcel
//! may do with that is for the law crate. Counts are cells (exact integers) until the border of this crate's callers.
//!
//! Reading order: [`Setting`] is what is given; [`Parties`] and [`contributing`] count whose water reaches whom;
//! [`Destinations`] lists where each cell's water goes, and [`divide_heights`] how high the divides stand;
//! [`draining_through`] counts what drains through any area;
//! [`reaches`] cuts mapped waterways at junctions; [`shares`] finds leaving points; [`path`] and [`trace`] follow one of them,
//! [`Courses`] all at once; [`piped_path`] follows water that a pipe takes;
//! [`arriving`] looks up the slope from a place; [`OutletNetwork`] is the graph of it all; [`lands_crossed`] and
//! [`flow_lines`] give for every cell what a trace of it reports.

mod arriving;
mod channel_owner;
mod contributing;
mod corner;
mod courses;
mod destination;
mod divide;
mod draining;
mod end;
mod flow_lines;
mod follow;
mod graph;
mod joined;
mod lands;
mod lot_line;
mod marked_channel;
mod party;
mod piped;
mod place;
mod reach;
mod setting;
mod share;
mod steps;
mod structure;
mod trace;

#[cfg(test)]
mod tests;

pub use arriving::{Arrival, Arriving, Inflow, Via, arriving, lands_above};
pub use contributing::{Contribution, contributing};
pub use courses::Courses;
pub use destination::{Destination, Destinations};
pub use divide::divide_heights;
pub use draining::draining_through;
pub use end::{End, ends};
pub use flow_lines::{FlowLine, FlowLines, flow_lines};
pub use follow::{path, piped_path, trace};
pub use graph::{Edge, Node, OutletNetwork};
pub use joined::{joins, known_ahead};
pub use lands::{LandsCrossed, Onward, lands_crossed};
pub use lot_line::LotLines;
pub use marked_channel::{ChannelTest, MarkedChannels, marked_channels};
pub use party::{Parties, Party};
pub use piped::piped_by_reach;
pub use place::{next_on_path, places_from};
pub use reach::{Reach, Reaches, reaches};
pub use setting::{Feature, Setting, WaterIx, Waterway};
pub use share::{Share, ShareLimits, shares};
pub use structure::{Junction, Structure, beyond};
pub use trace::{Carrier, Crossing, Path, Station, Trace};
