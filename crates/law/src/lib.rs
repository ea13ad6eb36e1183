//! Plain facts about one parcel and a rule profile in; standing, basis, evidence and ways to acquire out.
//!
//! No geometry, no raster, no input or output: the caller measures and looks up, [`judge`] decides. Every finding is a
//! screening: not a survey and not a legal opinion. Only a court decides a right.

use fallwright_units::ParcelId;

mod allotment;
mod evidence;
#[cfg(test)]
mod example;
mod facts;
mod finding;
mod judge;
mod next_step;
mod piped;
mod profile;
mod provisions;
mod reason;
mod schedule;
mod share;
mod ways;
mod wording;

pub use facts::{
    Assessment, CutOff, FeatureMet, Frontage, Land, LandOnPath, MarkedChannel, Membership, OutletOnPath, ParcelFacts,
    PathEnd, PipedFacts, ShareFacts,
};
pub use finding::{
    Consent, Evidence, Finding, Outlet, PipedFinding, ScheduleCase, ScheduleCheck, ShareFinding, ShareStanding,
    Standing, Value, Way, WayKind,
};
pub use judge::judge;
pub use profile::{
    Ask, Buffer, Class, Minimums, Notice, Profile, ProfileError, ProfileProblem, Provision, Sourced, UnmappedChannel,
    WayRule,
};
pub use reason::{Confidence, Reason};
