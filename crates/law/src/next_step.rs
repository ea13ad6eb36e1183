//! What to do next about a parcel, chosen from the reasons of its shares.

use fallwright_units::{Hectares, ParcelId};

use crate::own_frontage::can_be_led;
use crate::share::{ACROSS, Claim, Piece};
use crate::{NamedOutlet, OutletOnPath, ParcelFacts, Profile, Provision, Reason, ShareStanding};

/// What to do about the parcel that was judged: first what settles the most land, then the rest.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    pub first: Step,
    /// Largest first. What needs nothing but a confirmation is not among them.
    pub then: Vec<Step>,
}

/// One thing to do, for some hectares of the parcel, with what its sentence names.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    pub hectares: Hectares,
    /// The pipe that drains them; `None` for surface water.
    pub pipe: Option<String>,
    /// Absent where the path meets no lawful one.
    pub outlet: Option<NamedOutlet>,
    pub action: Action,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// The data leave the finding open.
    CompleteData(DataStep),
    /// There is a right.
    KeepRight(RightStep),
    /// An outlet has to be acquired.
    Acquire(AcquireStep),
}

/// What would complete the data.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DataStep {
    /// Elevation data that cover the parcel.
    CoverParcel,
    /// Elevation data without gaps on the parcel.
    FillGaps { missing: Hectares },
    /// Elevation data with smaller cells.
    RefineElevation,
    /// Elevation data farther downstream: the water leaves the data.
    ExtendDownstream,
    /// Elevation data farther downstream: the water runs into a hole in the data.
    FillGapDownstream,
    /// A look at a channel that no layer maps, in the field.
    LookAtChannel,
    /// The schedule of a drain that does not touch the parcel.
    GetSchedule,
    /// Whether an assessment for benefit carries outlet.
    AskWhetherOutlet,
}

/// What keeps a right or makes it sure. `crossed` are the parcels that the water crosses before the outlet, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RightStep {
    ConfirmOutlet,
    /// With the other parties of the agreement or award.
    ConfirmWithParties,
    /// The road authority's permission for its ditch, or a way on own land.
    AskRoadAuthority,
    LeadToOwnFrontage {
        crossed: Vec<ParcelId>,
    },
    /// With the owners on the way, before water is led across them; what runs there by itself needs no agreement.
    AgreeOnWay {
        crossed: Vec<ParcelId>,
    },
    /// Check that the document behind the right gives the way across others too.
    CheckWayAcross {
        crossed: Vec<ParcelId>,
    },
    LeaveNaturalCourse {
        crossed: Vec<ParcelId>,
    },
    GetSchedule,
    /// Whether the agreement or award is registered on title.
    CheckRegistration,
    /// Whether the parcel touches the outlet.
    SurveyFrontage,
    AskWhereDrainEnds,
    SurveyLevels,
}

/// What may acquire an outlet. `crossed` are the parcels that the water crosses before the outlet, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AcquireStep {
    /// How the water may reach a drain that assesses the parcel.
    AskHowToReach,
    /// With the owners on the way to a drain that assesses the parcel.
    AgreeOnWayToDrain {
        crossed: Vec<ParcelId>,
    },
    /// More hectares, to be assessed into a drain that assesses some.
    AssessMore,
    /// To a drain that does not assess the parcel: by a connection, or by a schedule that is varied.
    Connect,
    /// To a feature mapped just too far away.
    MeasureDistance,
    /// Of the owners on the way, and the approval.
    GetPermissions {
        crossed: Vec<ParcelId>,
    },
    /// On record, or apply for one.
    FindApproval,
    /// Check whether the agreement is registered on title; otherwise have a new one made.
    RenewAgreement,
    /// Whether the agreement or award names the parcel.
    AskWhetherNamed,
    /// Of the road authority, and ask about a lasting outlet.
    KeepRoadPermission,
    /// By cutting or piping an outlet.
    DrainDepression,
    JoinAgreement {
        otherwise: Otherwise,
    },
    /// How land may drain to an outlet that its water reaches across nobody.
    AskHowToDrain,
    /// With the owners on the way.
    AgreeOnDrain {
        crossed: Vec<ParcelId>,
        otherwise: Otherwise,
    },
}

/// What to do where no agreement is reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// Ask the road authority for the use of its ditch.
    AskRoadAuthority,
    /// Ask about other ways.
    AskOtherWays,
}

/// `pieces` are those that the standing rests on, and those of piped water. What is open comes first, what settles the most
/// land before the rest; a part that is no more than the profile's doubtful fraction of the hectares and than the accuracy of
/// watershed areas is small, and is named after what holds for the whole. Piped water is named only where something is open.
pub(crate) fn next_step(
    whole_parcel: Option<Reason>,
    pieces: &[&Piece],
    facts: &ParcelFacts,
    profile: &Profile,
) -> NextStep {
    let supply =
        |action| Step { hectares: facts.own_ha, pipe: None, outlet: None, action: Action::CompleteData(action) };
    if let Some(reason) = whole_parcel {
        return NextStep { first: supply(supply_elevation(reason, facts)), then: Vec::new() };
    }
    let mut steps = merged(pieces.iter().map(|piece| step(piece, facts, profile)));
    let surface = steps.iter().filter(|step| step.pipe.is_none());
    let all: f64 = surface.map(|step| step.hectares.hectares()).sum();
    let small = (profile.minimums.doubtful_fraction.value * all).min(profile.minimums.excess_ha.value);
    steps.retain(|step| step.pipe.is_none() || step.action.is_open());
    steps.sort_by(|a, b| b.hectares.hectares().total_cmp(&a.hectares.hectares()));
    let open = |step: &&Step| step.action.is_open();
    let first = match (steps.iter().find(open), steps.iter().find(|step| !open(step))) {
        (Some(step), Some(_)) if step.hectares.hectares() > small => step.clone(),
        (Some(step), None) | (_, Some(step)) => step.clone(),
        (None, None) => supply(DataStep::RefineElevation),
    };
    let then = steps.into_iter().filter(|step| step.action.is_open() && *step != first).collect();
    NextStep { first, then }
}

impl Step {
    /// Whether it is the same but for the hectares and the parcels crossed.
    fn is_alike(&self, other: &Self) -> bool {
        let Self { pipe, outlet, action, .. } = self;
        (pipe, outlet) == (&other.pipe, &other.outlet) && action.is_alike(&other.action)
    }
}

impl Action {
    /// Whether something is missing that has to be got, rather than confirmed.
    const fn is_open(&self) -> bool {
        !matches!(
            self,
            Self::KeepRight(
                RightStep::ConfirmOutlet
                    | RightStep::ConfirmWithParties
                    | RightStep::LeaveNaturalCourse { .. }
                    | RightStep::SurveyLevels
            )
        )
    }

    /// The parcels crossed that the action names.
    const fn crossed_mut(&mut self) -> Option<&mut Vec<ParcelId>> {
        match self {
            Self::KeepRight(
                RightStep::LeadToOwnFrontage { crossed }
                | RightStep::AgreeOnWay { crossed }
                | RightStep::CheckWayAcross { crossed }
                | RightStep::LeaveNaturalCourse { crossed },
            )
            | Self::Acquire(
                AcquireStep::AgreeOnWayToDrain { crossed }
                | AcquireStep::GetPermissions { crossed }
                | AcquireStep::AgreeOnDrain { crossed, .. },
            ) => Some(crossed),
            _ => None,
        }
    }

    /// What to do where no agreement is reached.
    const fn otherwise_mut(&mut self) -> Option<&mut Otherwise> {
        match self {
            Self::Acquire(AcquireStep::JoinAgreement { otherwise } | AcquireStep::AgreeOnDrain { otherwise, .. }) => {
                Some(otherwise)
            }
            _ => None,
        }
    }

    /// The same thing to do, whoever is crossed and whatever remains if it fails.
    fn is_alike(&self, other: &Self) -> bool {
        let bare = |action: &Self| {
            let mut bare = action.clone();
            if let Some(crossed) = bare.crossed_mut() {
                crossed.clear();
            }
            if let Some(otherwise) = bare.otherwise_mut() {
                *otherwise = Otherwise::AskOtherWays;
            }
            bare
        };
        bare(self) == bare(other)
    }
}

/// One step for each action, outlet and pipe, over all the parcels that its pieces cross.
fn merged(steps: impl Iterator<Item = Step>) -> Vec<Step> {
    let mut list: Vec<Step> = Vec::new();
    for mut step in steps {
        let alike = list.iter_mut().find(|known| known.is_alike(&step));
        let Some(known) = alike else {
            list.push(step);
            continue;
        };
        known.hectares = known.hectares + step.hectares;
        if let (Some(known), Some(Otherwise::AskRoadAuthority)) =
            (known.action.otherwise_mut(), step.action.otherwise_mut())
        {
            *known = Otherwise::AskRoadAuthority;
        }
        if let (Some(all), Some(more)) = (known.action.crossed_mut(), step.action.crossed_mut()) {
            let new: Vec<ParcelId> = more.drain(..).filter(|parcel| !all.contains(parcel)).collect();
            all.extend(new);
        }
    }
    list
}

fn step(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> Step {
    let (outlet, action) = match piece.standing {
        ShareStanding::Right => (piece.outlet(), Action::KeepRight(keep_right(piece, facts, profile))),
        ShareStanding::Undecided => (piece.outlet(), Action::CompleteData(find_out(piece))),
        ShareStanding::Acquire => {
            let (outlet, step) = acquire(piece, profile);
            (outlet, Action::Acquire(step))
        }
    };
    let pipe = piece.pipe().map(ToOwned::to_owned);
    Step { hectares: piece.hectares, pipe, outlet: outlet.map(NamedOutlet::of), action }
}

fn supply_elevation(reason: Reason, facts: &ParcelFacts) -> DataStep {
    match reason {
        Reason::OutsideElevationData => DataStep::CoverParcel,
        Reason::ElevationMissing => DataStep::FillGaps { missing: facts.missing_ha },
        _ => DataStep::RefineElevation,
    }
}

fn keep_right(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> RightStep {
    const IN_ORDER: [Reason; 12] = [
        Reason::ScheduleNotSupplied,
        Reason::AgreementNotRegistered,
        Reason::RoadDitchOnTheWay,
        Reason::WaterLeavesOverNeighbour,
        Reason::PipedUnderNeighbour,
        Reason::CollectedWaterOnNeighbour,
        Reason::NaturalFlowOverNeighbour,
        Reason::FrontageWithinBoundaryAccuracy,
        Reason::AgreementDrainWithoutOutlet,
        Reason::FallWithinElevationAccuracy,
        Reason::DivideWithinElevationAccuracy,
        Reason::PathCrossesFilledGround,
    ];
    let found = IN_ORDER.into_iter().find(|reason| piece.reasons.contains(reason));
    let by_agreement = |claim: &Claim| matches!(claim.class.provision, Provision::NamedParty | Provision::NamedInAward);
    match found {
        Some(reason) => settle(reason, piece, facts, profile),
        None if piece.basis.is_some_and(by_agreement) => RightStep::ConfirmWithParties,
        None => RightStep::ConfirmOutlet,
    }
}

/// What to do about a reason that clouds a right.
fn settle(reason: Reason, piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> RightStep {
    let crossed = || crossed_before(piece.outlet());
    let is_across = ACROSS.contains(&reason);
    match reason {
        _ if is_across && piece.outlet().is_some_and(|outlet| can_be_led(piece.share, outlet, facts, profile)) => {
            RightStep::LeadToOwnFrontage { crossed: crossed() }
        }
        _ if is_across && piece.basis.is_some_and(|claim| claim.class.provision.is_by_document()) => {
            RightStep::CheckWayAcross { crossed: crossed() }
        }
        _ if is_across => RightStep::AgreeOnWay { crossed: crossed() },
        Reason::RoadDitchOnTheWay => RightStep::AskRoadAuthority,
        Reason::NaturalFlowOverNeighbour => RightStep::LeaveNaturalCourse { crossed: crossed() },
        Reason::ScheduleNotSupplied => RightStep::GetSchedule,
        Reason::AgreementNotRegistered => RightStep::CheckRegistration,
        Reason::FrontageWithinBoundaryAccuracy => RightStep::SurveyFrontage,
        Reason::AgreementDrainWithoutOutlet => RightStep::AskWhereDrainEnds,
        _ => RightStep::SurveyLevels,
    }
}

fn acquire<'a>(piece: &Piece<'a>, profile: &Profile) -> (Option<&'a OutletOnPath>, AcquireStep) {
    const IN_ORDER: [Reason; 12] = [
        Reason::PermissionsMissing,
        Reason::ApprovalNotHeld,
        Reason::ApprovalNotSupplied,
        Reason::LaterOwnerNotBound,
        Reason::AssessedButNotTouching,
        Reason::ExceedsAssessedHectares,
        Reason::NotInSchedule,
        Reason::FrontageJustBeyondTolerance,
        Reason::PartiesNotSupplied,
        Reason::RoadPermissionIsRevocable,
        Reason::EndsInKeptDepression,
        Reason::EndsInClosedLake,
    ];
    // A lake that is an outlet for some is not drained because this parcel has no right to it.
    let counts = |reason: &Reason| *reason != Reason::EndsInClosedLake || piece.share.outlets.is_empty();
    match IN_ORDER.into_iter().filter(counts).find(|reason| piece.reasons.contains(reason)) {
        Some(reason) => {
            let outlet = concerned(reason, piece);
            (outlet, acquire_because(reason, outlet))
        }
        None => (piece.outlet(), agree_or_petition(piece, profile)),
    }
}

fn acquire_because(reason: Reason, outlet: Option<&OutletOnPath>) -> AcquireStep {
    let crossed = crossed_before(outlet);
    match reason {
        Reason::AssessedButNotTouching if crossed.is_empty() => AcquireStep::AskHowToReach,
        Reason::AssessedButNotTouching => AcquireStep::AgreeOnWayToDrain { crossed },
        Reason::ExceedsAssessedHectares => AcquireStep::AssessMore,
        Reason::NotInSchedule => AcquireStep::Connect,
        Reason::FrontageJustBeyondTolerance => AcquireStep::MeasureDistance,
        Reason::PermissionsMissing => AcquireStep::GetPermissions { crossed },
        Reason::ApprovalNotHeld | Reason::ApprovalNotSupplied => AcquireStep::FindApproval,
        Reason::LaterOwnerNotBound => AcquireStep::RenewAgreement,
        Reason::PartiesNotSupplied => AcquireStep::AskWhetherNamed,
        Reason::RoadPermissionIsRevocable => AcquireStep::KeepRoadPermission,
        _ => AcquireStep::DrainDepression,
    }
}

/// The outlet that a reason is about, which need not be the first on the path.
fn concerned<'a>(reason: Reason, piece: &Piece<'a>) -> Option<&'a OutletOnPath> {
    let concerns = |claim: &&Claim| match reason {
        Reason::ExceedsAssessedHectares => claim.gives_right(),
        _ => claim.outcome.reasons.contains(&reason),
    };
    piece.claims.iter().find(concerns).map(|claim| claim.outlet).or_else(|| piece.outlet())
}

fn agree_or_petition(piece: &Piece, profile: &Profile) -> AcquireStep {
    let crossed = piece.share.crossed();
    let otherwise = if piece.reasons.contains(&Reason::RoadDitchIsNoOutlet) {
        Otherwise::AskRoadAuthority
    } else {
        Otherwise::AskOtherWays
    };
    let class = piece.outlet().and_then(|outlet| profile.class(&outlet.class));
    if class.is_some_and(|class| class.provision == Provision::NamedParty) {
        AcquireStep::JoinAgreement { otherwise }
    } else if crossed.is_empty() {
        AcquireStep::AskHowToDrain
    } else {
        AcquireStep::AgreeOnDrain { crossed, otherwise }
    }
}

/// What would decide a share that the data leave open.
fn find_out(piece: &Piece) -> DataStep {
    const IN_ORDER: [(Reason, DataStep); 4] = [
        (Reason::UnmappedChannel, DataStep::LookAtChannel),
        (Reason::AssessedForBenefitOnly, DataStep::AskWhetherOutlet),
        (Reason::HoleInElevation, DataStep::FillGapDownstream),
        (Reason::PathLeavesData, DataStep::ExtendDownstream),
    ];
    let found = IN_ORDER.into_iter().find(|(reason, _)| piece.reasons.contains(reason));
    found.map_or(DataStep::GetSchedule, |(_, step)| step)
}

fn crossed_before(outlet: Option<&OutletOnPath>) -> Vec<ParcelId> {
    outlet.map_or_else(Vec::new, |outlet| outlet.crossed_before.clone())
}
