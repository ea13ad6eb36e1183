//! The demonstration case: an invented township block, made by a seeded program.
//!
//! [`township`] makes the data, values in and values out; [`write_case`] writes them as a case file with its layers.
//! Reading order, each file building on those before it: `plan` (where everything lies), `geometry`, `noise`, `bed_line`;
//! `channel`, `channels`, `till_plain` (the land before anybody dug), `road_ditches`, `ground` (the surveyed surface); `lot_part`,
//! `owners`, `parcels`, `roads`, `waterways`, `structures`, `constraints`, `schedule`, `levels`, `sections`, `rainfall`; `township` (all
//! together); `layers` and `tables` (as they are written), `write`.
//!
//! # What the block is made to show
//!
//! Roll numbers are `0527-0C0-LLL-PPPPP`: concession, lot, part (00200 and 00300 are the north and south halves, 004xx
//! and 005xx their west and east parts, 00100 a whole lot, 00900 a severed house).
//!
//! | situation | parcels |
//! |---|---|
//! | frontage on the creek, water reaches it over own land | 0527-020-002-00200, 0527-020-003-00200 |
//! | frontage on the creek, but the water leaves over the block's edge | 0527-020-001-00510 |
//! | on the Quernstone Drain and in its schedule | 0527-030-002-00200, 0527-030-004-00300 |
//! | assessed for fewer hectares than it drains | 0527-030-003-00200 |
//! | on that drain, missing from the schedule | 0527-030-003-00520 |
//! | on the Sedgeling Drain, which has no schedule | 0527-010-007-00300, 0527-010-007-00200 |
//! | party to the registered agreement | 0527-030-008-00200, 0527-030-008-00300 |
//! | party to the agreement that is not registered | 0527-020-007-00410, 0527-020-007-00420 |
//! | water crosses a marsh and a buried gas main on its way | 0527-030-005-00420 |
//! | no waterway of its own, water crosses two neighbours or more | 0527-030-005-00420, 0527-030-001-00410 |
//! | takes a road ditch for an outlet | 0527-030-001-00300, 0527-030-002-00300 |
//! | written permission to use a road ditch | 0527-010-009-00200 |
//! | split by the main divide | 0527-010-002-00200, 0527-010-003-00100 (with two fields) |
//! | an unmapped channel takes the water off the block | 0527-010-001-00300, 0527-010-002-00300 |
//! | water leaves over the edge without meeting a watercourse | 0527-010-009-00520 |
//! | water ends in a hole in the survey | 0527-010-004-00510, 0527-010-004-00520 |
//! | water ends in a pothole, in part | 0527-030-006-00200 |
//! | surface water to one watershed, tile water to another | 0527-010-006-00200 |
//! | an outlet that is sufficient, all the way down | 0527-030-003-00200, 0527-020-005-00410 |
//! | a culvert too small by design | 0527-010-003-00100, 0527-010-004-00200 |
//! | a drain that has silted, its by-law section adequate | 0527-010-007-00200, 0527-010-007-00300 |
//! | a tile main whose outlet stands under water | 0527-010-006-00200 |
//! | an outlet that cannot be checked: no cross-sections | 0527-030-008-00200, 0527-030-008-00300 |

// Each group builds on those above it.

// The plan: plain values, and what all of the block is drawn with.
mod bed_line;
mod geometry;
mod noise;
mod plan;

// The ground: what shaped it, and the surface that a survey found.
mod channel;
mod channels;
mod ground;
mod road_ditches;
mod till_plain;

// What lies on it: the layers and tables of the case.
mod constraints;
mod levels;
mod lot_part;
mod owners;
mod parcels;
mod rainfall;
mod roads;
mod schedule;
mod sections;
mod structures;
mod waterways;

// All together, and written.
mod layers;
mod tables;
mod township;
mod write;

pub use channel::WaterwayClass;
pub use constraints::{ConstraintArea, Utility};
pub use levels::LevelRow;
pub use parcels::{Field, Parcel};
pub use plan::CRS;
pub use roads::Road;
pub use schedule::ScheduleRow;
pub use sections::SectionRow;
pub use structures::{Culvert, Pipe, TiledArea};
pub use township::{Township, township};
pub use waterways::Waterway;
pub use write::{DemoError, write_case};
