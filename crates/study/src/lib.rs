//! A case worked out once: immutable, shared between threads, asked typed questions.
//!
//! [`Study::of`] works a case out; [`Study::revised`] gives the study of the same case on changed terrain and shares all the rest.
//! Each question is a file in `answers`, and its answer is a typed value: positions, cells, metres, hectares. Words, layers and
//! tables are made from answers in `fallwright-report`.
//!
//! Reading order: `ground` puts the layers on cells and conditions the terrain; [`Study`] holds what was worked out; `facts`
//! measures what the law asks; `answers` holds the questions; `dependence` finds which findings depend on a change of the terrain.

mod answers;
mod bank;
mod dependence;
mod error;
mod facts;
mod ground;
mod place;
mod share_cells;
mod study;
mod suspected_culvert;

pub use answers::arriving::{ArrivingAt, ArrivingWater, Giver};
pub use answers::buffers::{BufferStrip, buffers};
pub use answers::capacity::{
    AddedEffect, AddedLand, AddedWater, Assumed, Capacity, CapacityCheck, Cause, Checked, DefaultName, DefaultUsed,
    DefaultValue, DefaultsUsed, Fall, GradeSource, GroundFallDoubt, Link, LinkIx, Links, OutletLevel, ParcelFall,
    ParcelSufficiency, PipeOutlet, Remark, Remedy, Storm, Sufficiency, TileFlow, ToMeasure,
};
pub use answers::constraints::{ConstraintAlong, ConstraintExtent, ConstraintWithin};
pub use answers::leaving::{Leaving, LeavingFrom, LeavingPath};
pub use answers::parcels::ParcelAccounts;
pub use answers::petition::{
    Basin, Below, OutletLink, OwnLand, Petition, PetitionCount, PetitionLand, PetitionQuestion, SignatureNote,
    SignatureRemark, SuggestedArea, SuggestedLand, WhyInside, WithoutSlivers,
};
pub use answers::petition_area::{PetitionArea, PetitionAreas};
pub use answers::piped::{PipedLand, PipedWay};
pub use answers::standing::{Standings, findings};
pub use answers::terrain_changes::{ChangeKind, Consequence, Filled, TerrainChange, count_listed};
pub use answers::watershed::{
    Cells, Comparison, LandInWatershed, Tally, Watershed, WatershedLand, WatershedPart, WatershedParts, sum,
};
pub use answers::watersheds::{OutletWatershed, watersheds};
pub use bank::Bank;
pub use error::StudyError;
pub use facts::path_end;
pub use fallwright_case::Progress;
pub use fallwright_hydraulics::Control;
pub use ground::{Ground, build};
pub use place::{MapPoint, Place};
pub use study::{Study, size};
pub use suspected_culvert::{CulvertEvidence, first_lowered, is_embankment};
