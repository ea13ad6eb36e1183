//! The finding on one share: which of the features on its path give a right, and what becomes of the rest.

use fallwright_units::{Hectares, Metres, ShareIx};

use crate::cell_size::cells_may_hide_channel;
use crate::provisions::{self, Met, Outcome, Right, touches};
use crate::{
    Assessed, Class, ClassKind, Confidence, FeatureMet, Land, LandOnPath, OutletOnPath, ParcelFacts, PathEnd,
    PipedFacts, PipedPart, Profile, Provision, Reason, ShareFacts, ShareFinding, ShareStanding,
};

/// A lawful outlet on a share's path, and what its provision says.
#[derive(Debug)]
pub(crate) struct Claim<'a> {
    pub(crate) outlet: &'a OutletOnPath,
    pub(crate) class: &'a Class,
    /// Position on the path.
    pub(crate) position: usize,
    pub(crate) outcome: Outcome,
    /// Whether a right may rest on it: see [`mark_deciding`].
    pub(crate) decides: bool,
}

/// A share, or the part of one that has one standing.
#[derive(Debug)]
pub(crate) struct Piece<'a> {
    pub(crate) origin: Origin<'a>,
    pub(crate) share: &'a ShareFacts,
    pub(crate) claims: &'a [Claim<'a>],
    pub(crate) hectares: Hectares,
    pub(crate) standing: ShareStanding,
    pub(crate) basis: Option<&'a Claim<'a>>,
    /// In the order found: the first says most.
    pub(crate) reasons: Vec<Reason>,
}

/// Reasons for which a way across neighbours is needed.
pub(crate) const ACROSS: [Reason; 3] =
    [Reason::WaterLeavesOverNeighbour, Reason::PipedUnderNeighbour, Reason::CollectedWaterOnNeighbour];

/// Whose water a piece is.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Origin<'a> {
    /// Of the share at that position of the facts.
    Surface(ShareIx),
    Piped {
        piped: &'a PipedFacts,
        part: &'a PipedPart,
    },
}

/// The claims of a share, the strongest class first, along the path within a class. Classes that the profile does not
/// know confer nothing.
pub(crate) fn claims<'a>(share: &'a ShareFacts, facts: &ParcelFacts, profile: &'a Profile) -> Vec<Claim<'a>> {
    claims_on(&share.outlets, facts, profile)
}

/// The claims on some outlets, in order downstream.
pub(crate) fn claims_on<'a>(outlets: &'a [OutletOnPath], facts: &ParcelFacts, profile: &'a Profile) -> Vec<Claim<'a>> {
    let claim = |(position, outlet): (usize, &'a OutletOnPath)| {
        let class = profile.class(&outlet.class)?;
        let (feature, crossed) = (outlet.feature.as_str(), outlet.crossed_before.as_slice());
        let met = Met { feature, crossed, further: &outlets[position + 1..] };
        let outcome = provisions::test(class, met, facts, profile);
        Some(Claim { outlet, class, position, outcome, decides: true })
    };
    let mut claims: Vec<_> = outlets.iter().enumerate().filter_map(claim).collect();
    mark_deciding(&mut claims);
    claims.sort_by_key(|claim| profile.rank(&claim.class.id));
    claims
}

/// Marks the claims on which a right may rest; they come in order downstream.
///
/// Where the water first enters a feature whose class admits only some land (assessed, named or approved), the right must
/// hold there: a right to an outlet farther down does not cure what is missing. What runs in the same channel counts with
/// it. Where a natural watercourse without such a rule is met first, every outlet on the path counts.
///
/// *Source*: that land which is not assessed must first be connected or assessed: Drainage Act, ss. 65 and 76, from memory.
fn mark_deciding(claims: &mut [Claim]) {
    let Some(first) = claims.first() else { return };
    let (position, same_channel) = (first.position, &first.outlet.same_channel_as);
    let in_first_channel = |claim: &Claim| claim.position == position || same_channel.contains(&claim.outlet.feature);
    let first_channel: Vec<bool> = claims.iter().map(in_first_channel).collect();
    let mut entered = claims.iter().zip(&first_channel).filter(|(_, is_first)| **is_first);
    if entered.any(|(claim, _)| claim.class.provision.admits_only_some()) {
        for (claim, is_first) in claims.iter_mut().zip(first_channel) {
            claim.decides = is_first;
        }
    }
}

/// What the provision says of a feature on the path that is no lawful outlet.
pub(crate) fn on_the_way(met: &FeatureMet, facts: &ParcelFacts, profile: &Profile) -> Option<Outcome> {
    let class = profile.class(&met.class)?;
    let met = Met { feature: &met.feature, crossed: &[], further: &[] };
    Some(provisions::test(class, met, facts, profile))
}

impl Claim<'_> {
    pub(crate) fn gives_right(&self) -> bool {
        self.decides && matches!(self.outcome.right, Right::Whole | Right::UpTo(_))
    }

    /// A right that would hold, were the drain that the water enters first not in the way.
    pub(crate) fn is_beyond_drain(&self) -> bool {
        !self.decides && matches!(self.outcome.right, Right::Whole | Right::UpTo(_))
    }

    /// A drain whose schedule does not list the parcel.
    fn lacks_assessment(&self) -> bool {
        self.outcome.reasons.contains(&Reason::NotInSchedule)
    }

    /// Whether the outlet says something about this parcel: the first on the path, one in the same channel, one that gives a
    /// right, or one with which the parcel has to do.
    pub(crate) fn concerns(&self, share: &ShareFacts, facts: &ParcelFacts) -> bool {
        let feature = self.outlet.feature.as_str();
        let in_first_channel =
            share.outlets.first().is_some_and(|first| first.same_channel_as.contains(&self.outlet.feature));
        self.position == 0
            || in_first_channel
            || self.gives_right()
            || self.is_beyond_drain()
            || facts.frontage_on(feature).is_some()
            || match facts.assessed_in(feature) {
                Assessed::Hectares(_) => true,
                Assessed::BenefitOnly => self.decides,
                Assessed::NotSupplied | Assessed::NotListed => false,
            }
    }
}

impl Origin<'_> {
    /// What is to be said of the way of the water, whatever it meets.
    fn reasons(&self) -> impl Iterator<Item = Reason> {
        let piped = match self {
            Self::Surface(_) => None,
            Self::Piped { piped, part } => Some(piped.reasons(part)),
        };
        piped.into_iter().flatten()
    }
}

impl<'a> Piece<'a> {
    pub(crate) fn with_right(
        origin: Origin<'a>,
        share: &'a ShareFacts,
        claims: &'a [Claim<'a>],
        claim: &'a Claim<'a>,
        facts: &ParcelFacts,
        profile: &Profile,
    ) -> Self {
        let mut reasons: Vec<Reason> = origin.reasons().collect();
        let lacks_permission = road_ditch_without_permission(share, facts, profile).is_some();
        reasons.extend(lacks_permission.then_some(Reason::RoadDitchOnTheWay));
        let over_neighbour = matches!(origin, Origin::Surface(_)) && !claim.outlet.crossed_before.is_empty();
        if over_neighbour && claim.class.provision.asks_for_the_way() {
            reasons.push(Reason::WaterLeavesOverNeighbour);
        }
        reasons.extend(&claim.outcome.reasons);
        reasons.extend((!claim.outlet.same_channel_as.is_empty()).then_some(Reason::SameChannel));
        reasons.extend(drains_that_lack_assessment(claim, claims));
        reasons.extend((!claim.class.confirmed).then_some(Reason::RuleNotConfirmed));
        let (hectares, standing) = (share.hectares, ShareStanding::Right);
        Self { origin, share, claims, hectares, standing, basis: Some(claim), reasons }
    }

    pub(crate) fn without_right(
        origin: Origin<'a>,
        share: &'a ShareFacts,
        claims: &'a [Claim<'a>],
        facts: &ParcelFacts,
        profile: &Profile,
    ) -> Self {
        let (mut standing, mut reasons) = end_of_path(share);
        reasons.extend(cells_may_hide_channel(share, facts, profile).then_some(Reason::CellsMayHideChannel));
        reasons.extend(origin.reasons());
        let mut concerning: Vec<_> = claims.iter().filter(|claim| claim.concerns(share, facts)).collect();
        let two_statuses = share.outlets.first().is_some_and(|first| !first.same_channel_as.is_empty());
        reasons.extend(two_statuses.then_some(Reason::SameChannel));
        concerning.sort_by_key(|claim| claim.position);
        for claim in concerning {
            if claim.is_beyond_drain() {
                reasons.push(Reason::RightBeyondDrain);
                continue;
            }
            reasons.extend(claim.gives_right().then_some(Reason::ExceedsAssessedHectares));
            reasons.extend(&claim.outcome.reasons);
            reasons.extend((!claim.class.confirmed).then_some(Reason::RuleNotConfirmed));
            if claim.decides && claim.outcome.right == Right::Open {
                standing = ShareStanding::Undecided;
            }
        }
        for met in &share.also_met {
            reasons.extend(on_the_way(met, facts, profile).into_iter().flat_map(|outcome| outcome.reasons));
        }
        let unled = matches!(origin, Origin::Surface(_)) && runs_unled(share, profile);
        reasons.extend(unled.then_some(Reason::NaturalSurfaceFlow));
        Self { origin, share, claims, hectares: share.hectares, standing, basis: None, reasons }
    }

    pub(crate) fn undecided(
        origin: Origin<'a>,
        share: &'a ShareFacts,
        claims: &'a [Claim<'a>],
        reason: Reason,
    ) -> Self {
        let (hectares, standing) = (share.hectares, ShareStanding::Undecided);
        Self { origin, share, claims, hectares, standing, basis: None, reasons: vec![reason] }
    }

    /// The outlet that the finding on this piece turns on.
    pub(crate) fn outlet(&self) -> Option<&'a OutletOnPath> {
        self.basis.map(|claim| claim.outlet).or_else(|| self.share.outlets.first())
    }

    /// The pipe that takes the water, where one does.
    pub(crate) fn pipe(&self) -> Option<&'a str> {
        match self.origin {
            Origin::Surface(_) => None,
            Origin::Piped { piped, .. } => Some(&piped.pipe),
        }
    }

    /// Each once.
    pub(crate) fn sorted_reasons(&self) -> Vec<Reason> {
        let mut reasons = self.reasons.clone();
        reasons.sort_unstable();
        reasons.dedup();
        reasons
    }

    /// `None` of piped water.
    pub(crate) fn finding(&self) -> Option<ShareFinding> {
        let Origin::Surface(leaving_point) = self.origin else { return None };
        Some(ShareFinding {
            share: self.share.share,
            leaving_point,
            hectares: self.hectares,
            standing: self.standing,
            basis: self.basis.map(|claim| claim.class.id.clone()),
            basis_feature: self.basis.map(|claim| claim.outlet.feature.clone()),
            outlet: self.share.outlets.first().map(|outlet| outlet.feature.clone()),
            reasons: self.sorted_reasons(),
            confidence: self.confidence(),
        })
    }

    pub(crate) fn confidence(&self) -> Confidence {
        self.reasons.iter().map(|reason| reason.confidence()).min().unwrap_or(Confidence::High)
    }
}

/// Drains that the water meets besides the basis of its right, and whose schedules do not list the parcel.
fn drains_that_lack_assessment(basis: &Claim, claims: &[Claim]) -> Vec<Reason> {
    let first_natural = claims.iter().filter(|claim| !claim.class.provision.admits_only_some());
    let first_natural = first_natural.map(|claim| claim.position).min();
    let reason = |claim: &Claim| {
        if basis.outlet.same_channel_as.contains(&claim.outlet.feature) {
            Reason::SharesChannelWithDrain
        } else if first_natural.is_some_and(|natural| natural < claim.position) {
            Reason::DrainFartherDown
        } else {
            Reason::LedOnIntoDrain
        }
    };
    claims.iter().filter(|claim| claim.lacks_assessment()).map(reason).collect()
}

/// The first road ditch on the path for which no written permission names the parcel.
pub(crate) fn road_ditch_without_permission<'a>(
    share: &'a ShareFacts,
    facts: &ParcelFacts,
    profile: &Profile,
) -> Option<&'a FeatureMet> {
    road_ditches(share, profile).find(|ditch| !is_permitted(ditch, facts))
}

fn road_ditches<'a>(share: &'a ShareFacts, profile: &Profile) -> impl Iterator<Item = &'a FeatureMet> {
    let by_permission = |met: &&FeatureMet| {
        profile.class(&met.class).is_some_and(|class| class.provision == Provision::WrittenPermission)
    };
    share.also_met.iter().filter(by_permission)
}

fn is_permitted(ditch: &FeatureMet, facts: &ParcelFacts) -> bool {
    facts.membership_of(&ditch.feature).is_some_and(|member| member.names(&facts.parcel))
}

/// Land on the path whose owner or authority has to be asked: of others, but for roads on which the water runs in nothing but
/// ditches that the parcel may use by written permission.
pub(crate) fn lands_to_ask<'a>(share: &'a ShareFacts, facts: &ParcelFacts, profile: &Profile) -> Vec<&'a LandOnPath> {
    let permitted: Vec<&str> =
        road_ditches(share, profile).filter(|ditch| is_permitted(ditch, facts)).map(|ditch| &*ditch.feature).collect();
    let in_permitted = |carrier: &Option<String>| carrier.as_deref().is_some_and(|id| permitted.contains(&id));
    let is_asked = |on: &LandOnPath| match on.land {
        Land::Parcel(_) => true,
        Land::Road(_) => on.carriers.is_empty() || !on.carriers.iter().all(in_permitted),
        Land::Unowned => false,
    };
    share.lands.iter().filter(|on| is_asked(on)).collect()
}

/// Whether water that meets an outlet gets there over the ground by itself, not in a mapped ditch or pipe.
fn runs_unled(share: &ShareFacts, profile: &Profile) -> bool {
    let leads = |met: &FeatureMet| {
        profile.class(&met.class).is_some_and(|class| matches!(class.kind, ClassKind::Ditch | ClassKind::Pipe))
    };
    !share.outlets.is_empty() && !share.also_met.iter().any(leads)
}

/// Where nothing gives a right: must the share acquire one, or can the data not decide?
fn end_of_path(share: &ShareFacts) -> (ShareStanding, Vec<Reason>) {
    let (mut standing, mut reasons) = match (share.outlets.is_empty(), share.end) {
        (false, _) => (ShareStanding::Acquire, Vec::new()),
        (true, PathEnd::KeptDepression) => (ShareStanding::Acquire, vec![Reason::EndsInKeptDepression]),
        (true, PathEnd::ClosedLake) => (ShareStanding::Acquire, vec![Reason::EndsInClosedLake]),
        (true, PathEnd::Edge) => (ShareStanding::Undecided, vec![Reason::PathLeavesData]),
        (true, PathEnd::Hole) => (ShareStanding::Undecided, vec![Reason::HoleInElevation]),
    };
    if share.marked_channel.is_some() {
        standing = ShareStanding::Undecided;
        reasons.insert(0, Reason::UnmappedChannel);
    }
    (standing, reasons)
}

/// What is to be known of the water below every outlet, whatever right there is: that it comes to a lake and no farther.
pub(crate) fn lake_at_the_end(share: &ShareFacts) -> Option<Reason> {
    (share.end == PathEnd::ClosedLake).then_some(Reason::EndsInClosedLake)
}

/// What the elevations along the path to the first lawful outlet leave in doubt. Water that reaches it on the parcel
/// itself, or that leaves straight into a feature that the parcel touches, does not rest on its fall; where nothing is decided,
/// only a culvert that has to be looked for and ground that was filled count.
pub(crate) fn doubts_on_path(piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> Vec<Reason> {
    let mut reasons: Vec<Reason> =
        piece.share.over_suspected_culvert.then_some(Reason::PathOverSuspectedCulvert).into_iter().collect();
    let ends_higher = ends_higher(piece.share, facts, profile);
    reasons.extend(crosses_filled_ground(piece.share, profile).then_some(Reason::PathCrossesFilledGround));
    reasons.extend(ends_higher.then_some(Reason::PathEndsHigher));
    if piece.standing == ShareStanding::Undecided {
        return reasons;
    }
    let first = piece.share.outlets.first();
    let rests_on_fall = first.is_some_and(|outlet| rests_on_path(outlet, facts)) && !ends_higher;
    if rests_on_fall && below_doubt(piece.share.fall, facts) {
        reasons.push(Reason::FallWithinElevationAccuracy);
    }
    if below_doubt(piece.share.divide_height, facts) {
        reasons.push(Reason::DivideWithinElevationAccuracy);
    }
    reasons
}

/// Whether the path lies deeper in filled ground than the profile's metres, or crosses such ground of more than its hectares.
fn crosses_filled_ground(share: &ShareFacts, profile: &Profile) -> bool {
    crosses_large_fill(share, profile) || share.deepest_fill.metres() > profile.minimums.filled_m.value
}

/// Whether the ground that had to be filled may be a lake or a real depression: it has more than the profile's hectares.
pub(crate) fn crosses_large_fill(share: &ShareFacts, profile: &Profile) -> bool {
    share.filled.is_some_and(|filled| filled.area.hectares() > profile.minimums.filled_ha.value)
}

/// Whether the path ends on ground that stands clearly above that where it began, because ground on the way was filled.
fn ends_higher(share: &ShareFacts, facts: &ParcelFacts, profile: &Profile) -> bool {
    let doubt = facts.elevation_rmse.map_or(profile.minimums.filled_m.value, |rmse| level_doubt(rmse).metres());
    let rises = share.fall.is_some_and(|fall| -fall.metres() > doubt);
    rises && share.deepest_fill.metres() > doubt
}

fn rests_on_path(outlet: &OutletOnPath, facts: &ParcelFacts) -> bool {
    let beside = outlet.crossed_before.is_empty() && touches(&outlet.feature, facts);
    !outlet.reached_on_own_land && !beside
}

fn below_doubt(difference: Option<Metres>, facts: &ParcelFacts) -> bool {
    let (Some(difference), Some(rmse)) = (difference, facts.elevation_rmse) else { return false };
    difference < level_doubt(rmse)
}

/// How far two levels must differ before elevations of that root mean square error can determine the higher one.
///
/// The difference of two independent heights has the standard error √2 · RMSE; twice that holds about 95 % of the errors
/// (normal distribution). Elevations of nearby points are correlated, so that the test errs on the side of doubt.
pub(crate) fn level_doubt(rmse: Metres) -> Metres {
    Metres::from_metres(2.0 * std::f64::consts::SQRT_2 * rmse.metres()).expect("three times a finite length")
}
