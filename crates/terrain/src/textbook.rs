//! The textbook algorithms, one cell after the other over the whole raster: the oracle for [`crate::tiled`].

mod accumulation;
mod cuts;
mod fill;
mod flats;
mod flow;
mod watershed;

pub use accumulation::accumulation;
pub use cuts::cuts;
pub use fill::fill;
#[cfg(test)]
pub(crate) use flats::flat_mask;
pub use flow::{flow_along_channels, flow_direction};
pub use watershed::label_upstream;
