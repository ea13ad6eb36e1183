//! What to do next about a parcel, chosen from the reasons of its shares.

use fallwright_units::{Hectares, ParcelId};

use crate::judge::counted;
use crate::own_frontage::can_be_led;
use crate::share::{ACROSS, Claim, Piece, crosses_large_fill, lands_to_ask};
use crate::ways::{is_assessed, led_to_own_frontage};
use crate::{Land, NamedOutlet, OutletOnPath, ParcelFacts, Profile, Provision, Reason, ScheduleCheck, ShareStanding};

/// What to do about the parcel that was judged: first what settles the most land, then the rest.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    pub first: Step,
    /// Largest first. What needs nothing but a confirmation is not among them.
    pub then: Vec<Step>,
    /// Assessments of more hectares than drain to the drain, where something is open.
    pub unused: Vec<UnusedAssessment>,
}

/// One thing to do, for some hectares of the parcel, with what its sentence names.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    pub hectares: Hectares,
    /// The pipe that drains them; `None` for surface water.
    pub pipe: Option<String>,
    /// Of the hectares those that the pipe takes out of their watershed.
    pub leaving_watershed: Hectares,
    /// Absent where the path meets no lawful one.
    pub outlet: Option<NamedOutlet>,
    /// Whether the outlet is a natural watercourse or a lake.
    pub is_natural: bool,
    /// Parcels and roads of others that the water crosses before the first lawful outlet, in order, each once; no road whose
    /// ditch it uses by permission.
    pub lands: Vec<LandToAsk>,
    /// The other parties of the agreement or award for the outlet.
    pub parties: Vec<ParcelId>,
    /// Parcels of others on which an outlet with parties runs, although they are no parties.
    pub runs_over: Vec<ParcelId>,
    /// Of the hectares those whose water passes a place where a culvert is only suspected.
    pub over_suspected_culvert: Hectares,
    pub action: Action,
}

/// Land of others on the way of some water.
#[derive(Clone, Debug, PartialEq)]
pub struct LandToAsk {
    pub land: Land,
    /// Of the hectares of the step those whose water crosses it.
    pub hectares: Hectares,
}

/// A schedule that assesses more hectares of the parcel into a drain than drain there, by more than the accuracy of
/// watershed areas.
#[derive(Clone, Debug, PartialEq)]
pub struct UnusedAssessment {
    pub drain: NamedOutlet,
    pub assessed: Hectares,
    pub draining: Hectares,
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
    /// A look at filled ground over which the water would leave the data, or run into a hole in them, in the field.
    LookAtFilledGround,
    /// A look at a channel that no layer maps, in the field.
    LookAtChannel,
    /// The schedule of a drain that does not touch the parcel.
    GetSchedule,
    /// Whether an assessment for benefit carries outlet.
    AskWhetherOutlet,
}

/// What keeps a right or makes it sure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RightStep {
    ConfirmOutlet,
    /// With the other parties of the agreement or award.
    ConfirmWithParties,
    /// The road authority's permission for its ditch, or a way on own land where levels allow one.
    AskRoadAuthority {
        can_be_led: bool,
    },
    LeadToOwnFrontage,
    /// With those whose land is crossed, before water is led across; what runs there by itself needs no agreement.
    AgreeOnWay,
    /// Check that the document behind the right gives the way across others too.
    CheckWayAcross,
    LeaveNaturalCourse,
    GetSchedule,
    /// Whether the agreement or award is registered on title.
    CheckRegistration,
    /// The agreement or award, which is known not to be registered.
    Register,
    /// Whether the parcel touches the outlet.
    SurveyFrontage,
    AskWhereDrainEnds,
    SurveyLevels,
}

/// What may acquire an outlet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AcquireStep {
    /// How the water may reach a drain that assesses the parcel.
    AskHowToReach,
    /// With those whose land lies on the way to a drain that assesses the parcel.
    AgreeOnWayToDrain,
    /// More hectares, to be assessed into a drain that assesses some.
    AssessMore,
    /// To own frontage on the outlet, past the one that the water meets first, on own land.
    LeadToOwnFrontage {
        past: Option<NamedOutlet>,
    },
    /// To a drain that does not assess the parcel: by a connection, or by a schedule that is varied.
    Connect,
    /// To a feature mapped just too far away.
    MeasureDistance,
    /// Of those on the way, and the approval.
    GetPermissions,
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
    JoinAgreement,
    /// How land may drain to an outlet that its water reaches across nobody.
    AskHowToDrain,
    /// With those whose land lies on the way.
    AgreeOnDrain,
}

/// What is open comes first, what settles the most land before the rest; a part that is no more than the profile's doubtful
/// fraction of the hectares and than the accuracy of watershed areas is small, and is named after what holds for the whole.
/// Piped water is named only where something is open. The remainder counts where the same is to be done for another share.
pub(crate) fn next_step(
    whole_parcel: Option<Reason>,
    (surface, piped): (&[Piece], &[Piece]),
    schedule: &[ScheduleCheck],
    facts: &ParcelFacts,
    profile: &Profile,
) -> NextStep {
    if let Some(reason) = whole_parcel {
        return NextStep {
            first: supply(supply_elevation(reason, facts), facts),
            then: Vec::new(),
            unused: Vec::new(),
        };
    }
    let mut steps = merged(counted(surface).into_iter().chain(piped).flat_map(|piece| steps(piece, facts, profile)));
    let small = small_part(surface, profile);
    add_remainder(&mut steps, surface, facts, profile);
    steps.retain(|step| step.pipe.is_none() || step.action.is_open());
    steps.sort_by(|a, b| b.hectares.hectares().total_cmp(&a.hectares.hectares()));
    let open = |step: &&Step| step.action.is_open();
    let first = match (steps.iter().find(open), steps.iter().find(|step| !open(step))) {
        (Some(step), Some(_)) if step.hectares.hectares() > small => step.clone(),
        (Some(step), None) | (_, Some(step)) => step.clone(),
        (None, None) => supply(DataStep::RefineElevation, facts),
    };
    let is_open = steps.iter().any(|step| !matches!(step.action, Action::KeepRight(_)));
    let then = steps.into_iter().filter(|step| step.action.is_open() && *step != first).collect();
    NextStep { first, then, unused: if is_open { unused_assessments(schedule, facts) } else { Vec::new() } }
}

/// Hectares up to which a part is small.
fn small_part(surface: &[Piece], profile: &Profile) -> f64 {
    let all: f64 = counted(surface).iter().map(|piece| piece.hectares.hectares()).sum();
    (profile.minimums.doubtful_fraction.value * all).min(profile.minimums.excess_ha.value)
}

/// Adds the hectares of the remainder to those for which the same is to be done.
fn add_remainder(steps: &mut [Step], surface: &[Piece], facts: &ParcelFacts, profile: &Profile) {
    if surface.iter().all(|piece| piece.share.is_remainder) {
        return;
    }
    for piece in surface.iter().filter(|piece| piece.share.is_remainder) {
        for more in self::steps(piece, facts, profile) {
            if let Some(known) = steps.iter_mut().find(|known| known.is_alike(&more)) {
                let lands =
                    more.lands.into_iter().filter(|on| known.lands.iter().any(|asked| asked.land == on.land)).collect();
                known.take_in(Step { lands, ..more });
            }
        }
    }
}

fn supply(action: DataStep, facts: &ParcelFacts) -> Step {
    Step {
        hectares: facts.own_ha,
        pipe: None,
        leaving_watershed: Hectares::ZERO,
        outlet: None,
        is_natural: false,
        lands: Vec::new(),
        parties: Vec::new(),
        runs_over: Vec::new(),
        over_suspected_culvert: Hectares::ZERO,
        action: Action::CompleteData(action),
    }
}

/// Assessments of more hectares than drain to the drain, beyond the accuracy of watershed areas.
fn unused_assessments(schedule: &[ScheduleCheck], facts: &ParcelFacts) -> Vec<UnusedAssessment> {
    let unused = |check: &ScheduleCheck| {
        let (assessed, draining) = (check.assessed?, check.draining + check.piped_in);
        let is_unused = check.within_accuracy == Some(false) && draining < assessed;
        is_unused.then(|| UnusedAssessment { drain: named_drain(&check.drain, facts), assessed, draining })
    };
    schedule.iter().filter_map(unused).collect()
}

fn named_drain(drain: &str, facts: &ParcelFacts) -> NamedOutlet {
    let on_path = facts.shares.iter().flat_map(|share| &share.outlets).find(|outlet| outlet.feature == drain);
    on_path.map_or_else(
        || NamedOutlet {
            feature: drain.to_owned(),
            name: facts.frontage_on(drain).and_then(|frontage| frontage.name.clone()),
        },
        NamedOutlet::of,
    )
}

impl Step {
    /// Whether it is the same but for the hectares and the lands crossed.
    fn is_alike(&self, other: &Self) -> bool {
        let Self { pipe, outlet, action, .. } = self;
        (pipe, outlet, action) == (&other.pipe, &other.outlet, &other.action)
    }

    fn take_in(&mut self, other: Self) {
        self.hectares = self.hectares + other.hectares;
        self.leaving_watershed = self.leaving_watershed + other.leaving_watershed;
        self.over_suspected_culvert = self.over_suspected_culvert + other.over_suspected_culvert;
        for LandToAsk { land, hectares } in other.lands {
            match self.lands.iter_mut().find(|known| known.land == land) {
                Some(known) => known.hectares = known.hectares + hectares,
                None => self.lands.push(LandToAsk { land, hectares }),
            }
        }
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
                    | RightStep::LeaveNaturalCourse
                    | RightStep::SurveyLevels
            )
        )
    }
}

/// One step for each action, outlet and pipe.
fn merged(steps: impl Iterator<Item = Step>) -> Vec<Step> {
    let mut list: Vec<Step> = Vec::new();
    for step in steps {
        match list.iter_mut().find(|known| known.is_alike(&step)) {
            Some(known) => known.take_in(step),
            None => list.push(step),
        }
    }
    list
}

/// What to do about a piece; where there is a right, each document and each consent that is missing is a step of its own.
fn steps(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> Vec<Step> {
    let actions: Vec<(Option<&OutletOnPath>, Action)> = match piece.standing {
        ShareStanding::Right => {
            let keep = keep_right(piece, facts, profile).into_iter();
            keep.map(|step| (piece.outlet(), Action::KeepRight(step))).collect()
        }
        ShareStanding::Undecided => vec![(piece.outlet(), Action::CompleteData(find_out(piece, profile)))],
        ShareStanding::Acquire => {
            let (outlet, step) = acquire(piece, facts, profile);
            vec![(outlet, Action::Acquire(step))]
        }
    };
    actions.into_iter().map(|(outlet, action)| step(piece, outlet, action, facts, profile)).collect()
}

fn step(piece: &Piece, outlet: Option<&OutletOnPath>, action: Action, facts: &ParcelFacts, profile: &Profile) -> Step {
    let class = outlet.and_then(|outlet| profile.class(&outlet.class));
    let lands = lands_to_ask(piece.share, facts, profile).into_iter();
    let of_outlet = outlet.and_then(|outlet| facts.membership_of(&outlet.feature));
    let of_others =
        |parcels: &[ParcelId]| parcels.iter().filter(|parcel| facts.is_of_another(parcel)).cloned().collect();
    let where_it = |reason| if piece.reasons.contains(&reason) { piece.hectares } else { Hectares::ZERO };
    Step {
        hectares: piece.hectares,
        pipe: piece.pipe().map(ToOwned::to_owned),
        leaving_watershed: where_it(Reason::PipedOutOfWatershed),
        outlet: outlet.map(NamedOutlet::of),
        is_natural: class.is_some_and(|class| matches!(class.provision, Provision::Frontage | Provision::NaturalFlow)),
        lands: lands.map(|on| LandToAsk { land: on.land.clone(), hectares: piece.hectares }).collect(),
        parties: of_outlet.map_or_else(Vec::new, |member| of_others(&member.parties)),
        runs_over: of_outlet.map_or_else(Vec::new, |member| of_others(&member.runs_over)),
        over_suspected_culvert: where_it(Reason::PathOverSuspectedCulvert),
        action,
    }
}

fn supply_elevation(reason: Reason, facts: &ParcelFacts) -> DataStep {
    match reason {
        Reason::OutsideElevationData => DataStep::CoverParcel,
        Reason::ElevationMissing => DataStep::FillGaps { missing: facts.missing_ha },
        _ => DataStep::RefineElevation,
    }
}

fn keep_right(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> Vec<RightStep> {
    const DOCUMENTS: [Reason; 2] = [Reason::ScheduleNotSupplied, Reason::AgreementNotRegistered];
    const IN_DOUBT: [Reason; 6] = [
        Reason::NaturalFlowOverNeighbour,
        Reason::FrontageWithinBoundaryAccuracy,
        Reason::AgreementDrainWithoutOutlet,
        Reason::FallWithinElevationAccuracy,
        Reason::DivideWithinElevationAccuracy,
        Reason::PathCrossesFilledGround,
    ];
    let first_of = |reasons: &[Reason]| reasons.iter().copied().find(|reason| piece.reasons.contains(reason));
    let missing = [first_of(&DOCUMENTS), first_of(&[Reason::RoadDitchOnTheWay]), first_of(&ACROSS)];
    let mut steps: Vec<RightStep> =
        missing.into_iter().flatten().map(|reason| settle(reason, piece, facts, profile)).collect();
    let is_road = |step: &RightStep| matches!(step, RightStep::AskRoadAuthority { .. });
    if steps.contains(&RightStep::LeadToOwnFrontage) {
        // Own land leads past the road too.
        steps.retain(|step| !is_road(step));
    } else if steps.iter().any(is_road) {
        // With the road authority everybody on the way is asked.
        steps.retain(|step| !matches!(step, RightStep::AgreeOnWay | RightStep::CheckWayAcross));
    }
    if !steps.is_empty() {
        return steps;
    }
    let by_agreement = |claim: &Claim| matches!(claim.class.provision, Provision::NamedParty | Provision::NamedInAward);
    let confirm = || {
        if piece.basis.is_some_and(by_agreement) { RightStep::ConfirmWithParties } else { RightStep::ConfirmOutlet }
    };
    vec![first_of(&IN_DOUBT).map_or_else(confirm, |reason| settle(reason, piece, facts, profile))]
}

/// What to do about a reason that clouds a right.
fn settle(reason: Reason, piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> RightStep {
    let is_across = ACROSS.contains(&reason);
    let can_be_led = || piece.outlet().is_some_and(|outlet| can_be_led(piece.share, outlet, facts, profile));
    match reason {
        _ if is_across && can_be_led() => RightStep::LeadToOwnFrontage,
        _ if is_across && piece.basis.is_some_and(|claim| claim.class.provision.is_by_document()) => {
            RightStep::CheckWayAcross
        }
        _ if is_across => RightStep::AgreeOnWay,
        Reason::RoadDitchOnTheWay => RightStep::AskRoadAuthority { can_be_led: can_be_led() },
        Reason::NaturalFlowOverNeighbour => RightStep::LeaveNaturalCourse,
        Reason::ScheduleNotSupplied => RightStep::GetSchedule,
        Reason::AgreementNotRegistered if is_known_not_registered(piece, facts) => RightStep::Register,
        Reason::AgreementNotRegistered => RightStep::CheckRegistration,
        Reason::FrontageWithinBoundaryAccuracy => RightStep::SurveyFrontage,
        Reason::AgreementDrainWithoutOutlet => RightStep::AskWhereDrainEnds,
        _ => RightStep::SurveyLevels,
    }
}

fn is_known_not_registered(piece: &Piece, facts: &ParcelFacts) -> bool {
    let member = piece.outlet().and_then(|outlet| facts.membership_of(&outlet.feature));
    member.is_some_and(|member| member.registered == Some(false))
}

fn acquire<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> (Option<&'a OutletOnPath>, AcquireStep) {
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
    let first = piece.share.outlets.first();
    // Of a drain with a schedule its superintendent says whether water may be led past it.
    if let Some(outlet) = led_to_own_frontage(piece, facts, profile)
        && !first.is_some_and(|first| is_assessed(first, profile))
    {
        let past = first.filter(|first| first.feature != outlet.feature).map(NamedOutlet::of);
        return (Some(outlet), AcquireStep::LeadToOwnFrontage { past });
    }
    // A lake that is an outlet for some is not drained because this parcel has no right to it.
    let counts = |reason: &Reason| *reason != Reason::EndsInClosedLake || piece.share.outlets.is_empty();
    match IN_ORDER.into_iter().filter(counts).find(|reason| piece.reasons.contains(reason)) {
        Some(reason) => {
            let outlet = concerned(reason, piece);
            (outlet, acquire_because(reason, piece, facts, profile))
        }
        None => (piece.outlet(), agree_or_petition(piece, facts, profile)),
    }
}

fn acquire_because(reason: Reason, piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> AcquireStep {
    match reason {
        Reason::AssessedButNotTouching if !has_whom_to_ask(piece, facts, profile) => AcquireStep::AskHowToReach,
        Reason::AssessedButNotTouching => AcquireStep::AgreeOnWayToDrain,
        Reason::ExceedsAssessedHectares => AcquireStep::AssessMore,
        Reason::NotInSchedule => AcquireStep::Connect,
        Reason::FrontageJustBeyondTolerance => AcquireStep::MeasureDistance,
        Reason::PermissionsMissing => AcquireStep::GetPermissions,
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

fn agree_or_petition(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> AcquireStep {
    let class = piece.outlet().and_then(|outlet| profile.class(&outlet.class));
    if class.is_some_and(|class| class.provision == Provision::NamedParty) {
        AcquireStep::JoinAgreement
    } else if has_whom_to_ask(piece, facts, profile) {
        AcquireStep::AgreeOnDrain
    } else {
        AcquireStep::AskHowToDrain
    }
}

fn has_whom_to_ask(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> bool {
    !lands_to_ask(piece.share, facts, profile).is_empty()
}

/// What would decide a share that the data leave open.
fn find_out(piece: &Piece, profile: &Profile) -> DataStep {
    const IN_ORDER: [(Reason, DataStep); 4] = [
        (Reason::UnmappedChannel, DataStep::LookAtChannel),
        (Reason::AssessedForBenefitOnly, DataStep::AskWhetherOutlet),
        (Reason::HoleInElevation, DataStep::FillGapDownstream),
        (Reason::PathLeavesData, DataStep::ExtendDownstream),
    ];
    let found = IN_ORDER.into_iter().find(|(reason, _)| piece.reasons.contains(reason));
    let may_stay = piece.reasons.contains(&Reason::PathEndsHigher) || crosses_large_fill(piece.share, profile);
    match found {
        // More elevation farther downstream would not show whether the water ever gets there.
        Some((Reason::HoleInElevation | Reason::PathLeavesData, _)) if may_stay => DataStep::LookAtFilledGround,
        found => found.map_or(DataStep::GetSchedule, |(_, step)| step),
    }
}
