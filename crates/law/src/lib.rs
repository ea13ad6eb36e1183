//! Plain facts about one parcel and a rule profile in; standing, basis, evidence and ways to acquire out.
//!
//! No geometry, no raster, no input or output, no sentences but a profile's own: the caller measures and looks up, [`judge`]
//! decides, others write what a finding says. Every finding is a screening: not a survey and not a legal opinion. Only a
//! court decides a right.

use fallwright_units::ParcelId;

mod allotment;
mod cell_size;
mod evidence;
#[cfg(test)]
mod example;
mod facts;
mod finding;
mod judge;
mod next_step;
mod observation;
mod own_frontage;
pub mod petition;
mod piped;
mod profile;
mod provisions;
mod reason;
mod schedule;
mod share;
mod ways;

pub use facts::{
    Assessed, Assessment, ConstraintOnPath, CutOff, FeatureMet, FilledGround, Frontage, Land, LandOnPath,
    MarkedChannel, Membership, OutletOnPath, ParcelFacts, PathEnd, PipedFacts, PipedPart, ShareFacts,
};
pub use finding::{
    Consent, Consenting, Evidence, Excess, Finding, NamedOutlet, Outlet, PipedFinding, Rule, ScheduleCase,
    ScheduleCheck, ShareFinding, ShareStanding, Standing, Water, Way, WayKind, WayStep,
};
pub use judge::{Conclusion, judge};
pub use next_step::{AcquireStep, Action, DataStep, LandToAsk, NextStep, RightStep, Step, UnusedAssessment};
pub use observation::Observation;
pub use profile::{
    Ask, Buffer, Class, ClassKind, ConstraintRule, Minimums, Notice, Profile, ProfileError, ProfileProblem, Provision,
    Sourced, UnmappedChannel, WayRule,
};
pub use reason::{Confidence, FieldCheck, Reason};
