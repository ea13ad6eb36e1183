//! What to do next about a parcel, chosen from the reasons of its shares.

use fallwright_units::{Hectares, ParcelId};

use crate::provisions::touches;
use crate::share::{Claim, Piece};
use crate::{NamedOutlet, OutletOnPath, ParcelFacts, Profile, Provision, Reason, ShareStanding, Standing};

/// What to do next about the parcel that was judged, with what the sentence names.
#[derive(Clone, Debug, PartialEq)]
pub enum NextStep {
    /// The data leave the finding open.
    CompleteData(DataStep),
    /// There is a right; `outlet` is the one it holds for.
    KeepRight { outlet: Option<NamedOutlet>, step: RightStep },
    /// An outlet has to be acquired for `hectares`; `outlet` is absent where the path meets no lawful one.
    Acquire { outlet: Option<NamedOutlet>, hectares: Hectares, step: AcquireStep },
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
    /// Elevation data farther downstream: the water of these hectares leaves the data.
    ExtendDownstream { hectares: Hectares },
    /// Elevation data farther downstream: the water of these hectares runs into a hole in the data.
    FillGapDownstream { hectares: Hectares },
    /// A look at a channel that no layer maps, in the field.
    LookAtChannel,
}

/// What keeps a right or makes it sure. `crossed` are the parcels that the water crosses before the outlet, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RightStep {
    ConfirmOutlet,
    LeadToOwnFrontage {
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
    /// To a drain that does not assess the parcel.
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

/// `pieces` are those that the standing rests on.
pub(crate) fn next_step(
    standing: Standing,
    whole_parcel: Option<Reason>,
    pieces: &[&Piece],
    facts: &ParcelFacts,
    profile: &Profile,
) -> NextStep {
    if let Some(reason) = whole_parcel {
        return supply_elevation(reason, facts);
    }
    match standing {
        Standing::Right => keep_right(pieces, facts),
        Standing::Undecided => largest(pieces, ShareStanding::Undecided)
            .map_or(NextStep::CompleteData(DataStep::RefineElevation), find_out),
        Standing::RightInPart | Standing::Acquire => match largest(pieces, ShareStanding::Acquire) {
            Some(piece) => acquire(piece, profile),
            None => largest(pieces, ShareStanding::Undecided).map_or_else(|| keep_right(pieces, facts), find_out),
        },
    }
}

/// The largest piece of that standing, the first of equals.
fn largest<'p, 'a>(pieces: &[&'p Piece<'a>], standing: ShareStanding) -> Option<&'p Piece<'a>> {
    let of_standing = pieces.iter().copied().filter(|piece| piece.standing == standing);
    of_standing.reduce(|best, piece| if piece.hectares > best.hectares { piece } else { best })
}

fn supply_elevation(reason: Reason, facts: &ParcelFacts) -> NextStep {
    NextStep::CompleteData(match reason {
        Reason::OutsideElevationData => DataStep::CoverParcel,
        Reason::ElevationMissing => DataStep::FillGaps { missing: facts.missing_ha },
        _ => DataStep::RefineElevation,
    })
}

fn keep_right(pieces: &[&Piece], facts: &ParcelFacts) -> NextStep {
    const IN_ORDER: [Reason; 9] = [
        Reason::WaterLeavesOverNeighbour,
        Reason::NaturalFlowOverNeighbour,
        Reason::ScheduleNotSupplied,
        Reason::AgreementNotRegistered,
        Reason::FrontageWithinBoundaryAccuracy,
        Reason::AgreementDrainWithoutOutlet,
        Reason::FallWithinElevationAccuracy,
        Reason::DivideWithinElevationAccuracy,
        Reason::PathCrossesFilledGround,
    ];
    let with =
        |reason: Reason| pieces.iter().find(|piece| piece.reasons.contains(&reason)).map(|piece| (reason, piece));
    let found = IN_ORDER.into_iter().find_map(with);
    let (outlet, step) = match found {
        Some((reason, piece)) => (piece.outlet(), settle(reason, piece, facts)),
        None => (pieces.first().and_then(|piece| piece.outlet()), RightStep::ConfirmOutlet),
    };
    NextStep::KeepRight { outlet: outlet.map(NamedOutlet::of), step }
}

/// What to do about a reason that clouds a right.
fn settle(reason: Reason, piece: &Piece, facts: &ParcelFacts) -> RightStep {
    let crossed = || crossed_before(piece.outlet());
    match reason {
        Reason::WaterLeavesOverNeighbour if piece.outlet().is_some_and(|outlet| touches(&outlet.feature, facts)) => {
            RightStep::LeadToOwnFrontage { crossed: crossed() }
        }
        Reason::WaterLeavesOverNeighbour => RightStep::CheckWayAcross { crossed: crossed() },
        Reason::NaturalFlowOverNeighbour => RightStep::LeaveNaturalCourse { crossed: crossed() },
        Reason::ScheduleNotSupplied => RightStep::GetSchedule,
        Reason::AgreementNotRegistered => RightStep::CheckRegistration,
        Reason::FrontageWithinBoundaryAccuracy => RightStep::SurveyFrontage,
        Reason::AgreementDrainWithoutOutlet => RightStep::AskWhereDrainEnds,
        _ => RightStep::SurveyLevels,
    }
}

fn acquire(piece: &Piece, profile: &Profile) -> NextStep {
    const IN_ORDER: [Reason; 11] = [
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
    ];
    let reason = IN_ORDER.into_iter().find(|reason| piece.reasons.contains(reason));
    let (outlet, step) = match reason {
        Some(reason) => {
            let outlet = concerned(reason, piece);
            (outlet, acquire_because(reason, outlet))
        }
        None => (piece.outlet(), agree_or_petition(piece, profile)),
    };
    NextStep::Acquire { outlet: outlet.map(NamedOutlet::of), hectares: piece.hectares, step }
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

fn find_out(piece: &Piece) -> NextStep {
    let hectares = piece.hectares;
    NextStep::CompleteData(if piece.reasons.contains(&Reason::UnmappedChannel) {
        DataStep::LookAtChannel
    } else if piece.reasons.contains(&Reason::HoleInElevation) {
        DataStep::FillGapDownstream { hectares }
    } else {
        DataStep::ExtendDownstream { hectares }
    })
}

fn crossed_before(outlet: Option<&OutletOnPath>) -> Vec<ParcelId> {
    outlet.map_or_else(Vec::new, |outlet| outlet.crossed_before.clone())
}
