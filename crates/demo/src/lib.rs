//! The demonstration case: an invented township block, made by a seeded program.
//!
//! [`township`] makes the data, values in and values out; [`write_case`] writes them as a case file with its layers.

mod channels;
mod course;
mod ground;
mod land;
mod layers;
mod noise;
mod owners;
mod parcels;
mod plan;
mod road_ditches;
mod roads;
mod schedule;
mod structures;
mod township;
mod waterways;
mod write;

pub use plan::CRS;
pub use roads::Road;
pub use structures::{Culvert, Pipe, TiledArea};
pub use township::{Field, Parcel, ScheduleRow, Township, Waterway, WaterwayClass, township};
pub use write::write_case;
