//! What is found about one parcel.

use fallwright_units::{Hectares, Metres, ParcelId, ShareIx};

use crate::{
    Confidence, ConstraintOnPath, FieldCheck, Land, LandOnPath, NextStep, Observation, OutletOnPath, PathEnd, Reason,
};

/// The finding on one parcel. `right`, `acquire` and `undecided` sum to the hectares of its shares.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    pub standing: Standing,
    pub right: Hectares,
    pub acquire: Hectares,
    pub undecided: Hectares,
    /// Of the hectares with a right, those presumed assessed into a drain whose schedule is not supplied.
    pub presumed: Hectares,
    /// In the order of the facts; a share of which only part has a right gives one record for each part.
    pub shares: Vec<ShareFinding>,
    /// Class of the strongest basis, by the profile's order.
    pub basis: Option<String>,
    /// Every class that gives a right to some share, strongest first.
    pub bases: Vec<String>,
    /// First lawful outlet on the path of the main (largest) share, of whoever's standing.
    pub outlet: Option<Outlet>,
    /// The level that weighs: what holds no more than a small part of the hectares does not cloud the whole.
    pub confidence: Confidence,
    /// What to look at or measure in the field.
    pub field_checks: Vec<FieldCheck>,
    /// Sorted, each once.
    pub reasons: Vec<Reason>,
    pub evidence: Vec<Evidence>,
    /// For each drain with a schedule that lists the parcel, that it touches or to which some of its water goes.
    pub schedule: Vec<ScheduleCheck>,
    /// Drains to which more hectares drain than are assessed.
    pub excesses: Vec<Excess>,
    /// For each pipe to which land of the parcel is drained, in the order of the facts; water of which only part has a right
    /// gives one record for each part. The same hectares are among those of the shares.
    pub piped: Vec<PipedFinding>,
    /// For the shares and the piped water that must acquire an outlet, for those whose water must be led to the parcel's own
    /// frontage, and for pipes that run under neighbours; one for each kind and outlet.
    pub ways: Vec<Way>,
    pub next_step: NextStep,
}

/// The finding on one share or on part of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ShareFinding {
    pub share: u32,
    /// Position of the share in [`ParcelFacts::shares`](crate::ParcelFacts::shares), and so of its leaving point.
    pub leaving_point: ShareIx,
    pub hectares: Hectares,
    pub standing: ShareStanding,
    /// Class that gives the right.
    pub basis: Option<String>,
    /// Feature of that class.
    pub basis_feature: Option<String>,
    /// First lawful outlet on the path, of whoever's standing.
    pub outlet: Option<String>,
    pub reasons: Vec<Reason>,
    /// The lowest among `reasons`; high without any.
    pub confidence: Confidence,
}

/// What one drain's schedule says beside what is measured.
#[derive(Clone, Debug, PartialEq)]
pub struct ScheduleCheck {
    pub drain: String,
    pub case: ScheduleCase,
    /// `None` where the schedule does not list the parcel.
    pub assessed: Option<Hectares>,
    /// Of the shares whose path meets the drain.
    pub draining: Hectares,
    /// Brought to the drain by pipe from land whose surface water goes elsewhere.
    pub piped_in: Hectares,
    /// Whether the measured hectares are those assessed to within the accuracy of watershed areas.
    pub within_accuracy: Option<bool>,
    /// Where the water crosses others on its way to the drain.
    pub through: Vec<Land>,
}

/// Hectares that drain to a drain beside those that its schedule assesses.
#[derive(Clone, Debug, PartialEq)]
pub struct Excess {
    pub drain: NamedOutlet,
    pub assessed: Hectares,
    /// Of the shares for which the assessment counts.
    pub draining: Hectares,
    /// Of watershed areas, as the profile states it.
    pub accuracy: Hectares,
}

/// How a parcel stands to a drain with a schedule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScheduleCase {
    OnDrainAssessed,
    OnDrainNotAssessed,
    AssessedNotTouching,
    DrainingNotAssessed,
    /// None of the parcel's water goes to the drain that assesses it.
    AssessedNotDraining,
    /// The schedule lists the parcel for benefit, not for outlet.
    AssessedForBenefitOnly,
}

impl ScheduleCase {
    pub const fn code(self) -> &'static str {
        match self {
            Self::OnDrainAssessed => "on_drain_assessed",
            Self::OnDrainNotAssessed => "on_drain_not_assessed",
            Self::AssessedNotTouching => "assessed_not_touching",
            Self::DrainingNotAssessed => "draining_not_assessed",
            Self::AssessedNotDraining => "assessed_not_draining",
            Self::AssessedForBenefitOnly => "assessed_for_benefit_only",
        }
    }
}

/// The finding on the water of one pipe or on part of it.
#[derive(Clone, Debug, PartialEq)]
pub struct PipedFinding {
    pub pipe: String,
    pub hectares: Hectares,
    /// Of them, taken out of the watershed to which their surface water goes.
    pub leaving_watershed: Hectares,
    pub standing: ShareStanding,
    /// Class that gives the right.
    pub basis: Option<String>,
    /// Feature of that class.
    pub basis_feature: Option<String>,
    /// First lawful outlet that the piped water meets, of whoever's standing.
    pub outlet: Option<String>,
    pub reasons: Vec<Reason>,
    /// The lowest among `reasons`; high without any.
    pub confidence: Confidence,
    /// Land of others under and over which it goes before the first lawful outlet (or the path's end), in order, each once.
    pub lands: Vec<LandOnPath>,
    /// Length from where the pipe takes it to the first lawful outlet (or the path's end).
    pub path: Metres,
    pub end: PathEnd,
}

/// How water leaves a parcel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Water {
    /// Over the ground.
    Surface,
    /// By a pipe.
    Piped,
}

impl Water {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Surface => "surface",
            Self::Piped => "piped",
        }
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outlet {
    pub feature: String,
    pub class: String,
}

/// An outlet as a sentence names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedOutlet {
    pub feature: String,
    pub name: Option<String>,
}

impl NamedOutlet {
    pub(crate) fn of(outlet: &OutletOnPath) -> Self {
        Self { feature: outlet.feature.clone(), name: outlet.name.clone() }
    }
}

/// Standing of a parcel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Every share has a right, the remainder aside.
    Right,
    /// Some share, or part of one, has a right.
    RightInPart,
    /// No share has a right, and at least half of the hectares must acquire one.
    Acquire,
    /// No share has a right, and the data cannot decide for more than half of the hectares.
    Undecided,
}

impl Standing {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::RightInPart => "right_in_part",
            Self::Acquire => "acquire",
            Self::Undecided => "undecided",
        }
    }
}

/// Standing of a share or part of one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ShareStanding {
    Right,
    Acquire,
    Undecided,
}

impl ShareStanding {
    pub const fn code(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::Acquire => "acquire",
            Self::Undecided => "undecided",
        }
    }
}

/// Something measured or found that a finding rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    pub rule: Rule,
    pub feature: Option<String>,
    pub observation: Observation,
}

/// The rule for which something is measured or looked up. Each `source` is the profile's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Rule {
    /// What the class of this id confers.
    Class { id: String, source: String, confirmed: bool },
    /// Hectares of a parcel without elevation that count.
    MissingElevation { source: String },
    /// How accurate watershed areas are.
    AreaAccuracy { source: String },
    /// Metres of filling on a path that count.
    FilledGround { source: String },
    /// Hectares of a filled hollow that count.
    FilledArea { source: String },
    /// How many cells across a parcel must be.
    CellsAcross { source: String },
    /// When ground without a mapped feature shows a channel that matters.
    UnmappedChannel { source: String },
    /// How far two levels must differ before the elevation data can determine the higher one.
    ElevationAccuracy,
}

/// A way to acquire an outlet.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    pub way: WayKind,
    /// The profile's name for it.
    pub label: String,
    /// The profile's source for the way.
    pub source: String,
    /// Whether the profile has the source confirmed.
    pub confirmed: bool,
    /// Numbers of the shares that it serves, sorted, each once.
    pub shares: Vec<u32>,
    /// Hectares whose outlet it would make lawful, of the shares.
    pub cures: Hectares,
    /// Pipes whose water it serves, in the order of the facts, each once.
    pub pipes: Vec<String>,
    /// Hectares drained by pipe whose outlet it would make lawful; they may be among those of the shares.
    pub cures_piped: Hectares,
    /// Where it leads; `None` where the path meets no lawful outlet, and for the permission to use road ditches.
    pub outlet: Option<NamedOutlet>,
    /// Parcels that the water of any of these shares and pipes crosses now, each once: those of the largest share first, in order.
    pub crossed: Vec<ParcelId>,
    /// Those who must agree: the land on the way in order, then the parties of an agreement that is to be joined.
    pub consents: Vec<Consent>,
    /// What has to be drawn up or obtained, in order, as the profile says it.
    pub documents: Vec<String>,
    /// In order; at least one.
    pub steps: Vec<WayStep>,
    /// What remains if somebody refuses, as the profile says it.
    pub if_refused: String,
}

impl Way {
    /// The water that it serves.
    pub fn serves(&self) -> impl Iterator<Item = Water> {
        let surface = (!self.shares.is_empty()).then_some(Water::Surface);
        surface.into_iter().chain((!self.pipes.is_empty()).then_some(Water::Piped))
    }

    /// Parcels that the water still crosses once the way is taken.
    pub fn through(&self) -> &[ParcelId] {
        if self.way == WayKind::LeadToOwnFrontage { &[] } else { &self.crossed }
    }
}

/// One step of a way.
#[derive(Clone, Debug, PartialEq)]
pub enum WayStep {
    /// The profile's sentence; `{outlet}` and `{parcels}` are the outlet of the way and the parcels crossed.
    OfProfile(String),
    /// The parties of the outlet's agreement are asked to take the parcel in.
    AskParties,
    /// The authority of the road among the consents, or of several, is the only one to agree with.
    AskRoadAuthority,
    /// The authority of the road among the consents, or of several, must agree besides the owners.
    RoadAuthorityMustAgreeToo,
    /// The owners between the parcel and the road ditch must agree as well.
    AgreeOnWayToDitch,
    /// The municipality whose drain takes the water must agree, and assess the land.
    MunicipalityMustAssess(NamedOutlet),
    /// Works along the path would meet these constraints, about all of which the profile has the same asked.
    AskAboutConstraints { who: String, met: Vec<ConstraintOnPath> },
}

/// Somebody who must agree.
#[derive(Clone, Debug, PartialEq)]
pub struct Consent {
    pub who: Consenting,
    /// Across their land, on the longest of the paths; `None` where the water does not cross it.
    pub metres: Option<Metres>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Consenting {
    /// The owner of land, or the authority of a road.
    Land(Land),
    /// The municipality, which must assess what enters this drain.
    Municipality { drain: NamedOutlet },
}

/// The ways that a profile may offer. When each is suggested: [`crate::judge`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum WayKind {
    LeadToOwnFrontage,
    MutualAgreement,
    Connection,
    Petition,
    Approval,
    WrittenPermissions,
    RoadAuthorityPermission,
}

impl WayKind {
    pub const ALL: [Self; 7] = [
        Self::LeadToOwnFrontage,
        Self::MutualAgreement,
        Self::Connection,
        Self::Petition,
        Self::Approval,
        Self::WrittenPermissions,
        Self::RoadAuthorityPermission,
    ];

    pub const fn code(self) -> &'static str {
        match self {
            Self::LeadToOwnFrontage => "lead_to_own_frontage",
            Self::MutualAgreement => "mutual_agreement",
            Self::Connection => "connection",
            Self::Petition => "petition",
            Self::Approval => "approval",
            Self::WrittenPermissions => "written_permissions",
            Self::RoadAuthorityPermission => "road_authority_permission",
        }
    }
}
