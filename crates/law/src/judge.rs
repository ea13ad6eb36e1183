//! The finding on one parcel.

use fallwright_units::{Hectares, ShareIx};

use crate::allotment::Allotment;
use crate::cell_size::rests_on_cells_at_line;
use crate::evidence::evidence;
use crate::next_step::next_step;
use crate::piped::{piped_claims, piped_findings, piped_pieces, undecided_piped};
use crate::schedule::{is_unused, schedule_checks};
use crate::share::{Claim, Origin, Piece, claims, doubts_on_path, lake_at_the_end};
use crate::ways::ways;
use crate::{
    Confidence, Excess, FieldCheck, Finding, Outlet, ParcelFacts, Profile, Reason, ShareFacts, ShareStanding, Standing,
};

/// Judges one parcel under a rule profile.
///
/// Every share is judged for itself. Each lawful outlet on its path is tested by the provision of its class. Where the
/// water first enters a drain or another outlet that admits only some land (assessed, named, approved), the right must hold
/// there, whatever lies farther down; where it first meets a natural watercourse without such a rule, any outlet on the path
/// may give the right. Among those that count, the strongest class by the profile's order is the basis. A right limited to
/// assessed hectares is handed out to the shares in the order of the facts; what exceeds it by more than the accuracy of
/// watershed areas is a record of its own. Where nothing gives a right the share must acquire one, unless the data cannot
/// decide: its path leaves the data or runs into a hole before any lawful outlet, the ground shows an unmapped channel on
/// which the finding would turn, or a schedule is not supplied or lists the parcel for benefit alone.
///
/// Standing: `right` when every share has a right, `right_in_part` when some part has one; otherwise `acquire` when at
/// least as many hectares must acquire an outlet as are undecided, else `undecided`. The remainder counts in the hectares
/// only, unless there is no other share. A parcel outside the elevation data, or with too much of it missing, is undecided
/// as a whole.
///
/// The confidence weighs by hectares: see [`Finding::confidence`].
///
/// Ways, where something has to be acquired: *mutual agreement* where owners on the way, a road authority or the parties of
/// an agreement drain can be asked; *connection* where the path meets a drain whose schedule lacks the parcel or some of
/// its hectares; *petition* unless the parcel can connect to a drain that it touches; *road authority's permission* where
/// the path runs in a road ditch; *lead to own frontage* where there is a right but the water crosses a neighbour first;
/// *approval* and *written permissions* where the path meets an outlet that needs them.
///
/// Piped water is judged beside the shares, whose hectares its own are among: by the same provisions where the pipe leads it,
/// as water that is led. Natural flow excuses no way across others; a right by frontage needs the pipe to reach the
/// watercourse in whose watershed the land lies; assessed hectares serve it after the surface water, where that does not go to
/// the same drain already. The standing is that of the shares alone.
///
/// Shares and pipes with the same kind of way to the same outlet have one way together; permission to use road ditches is one way for
/// all of them.
///
/// *Units*: hectares and metres, as the types say. `right + acquire + undecided` equals the sum of the shares' hectares to
/// within 1e-9 ha.
///
/// *Assumptions*: classes that the profile does not know confer nothing; the caller refuses them when it reads its layers.
///
/// *Errors*: none; whatever the facts leave open is a reason of the finding.
///
/// *Complexity*: linear in the shares and outlets, times the parcel's frontages, assessments and memberships.
///
/// # Examples
/// An invented parcel of 12 ha on the bank of Mothwattle Creek, into which its water runs:
/// ```
/// use fallwright_law::{Frontage, OutletOnPath, ParcelFacts, PathEnd, Profile, ShareFacts, Standing, judge};
/// use fallwright_units::{Hectares, Metres, ParcelId};
///
/// let ha = Hectares::from_hectares(12.0)?;
/// let (feature, class) = ("MC".to_owned(), "natural_watercourse".to_owned());
/// let name = Some("Mothwattle Creek".to_owned());
/// let outlet = OutletOnPath {
///     feature: feature.clone(),
///     name: name.clone(),
///     class: class.clone(),
///     crossed_before: vec![],
///     reached_on_own_land: true,
///     same_channel_as: vec![],
/// };
/// let share = ShareFacts {
///     share: 1,
///     hectares: ha,
///     outlets: vec![outlet],
///     also_met: vec![],
///     lands: vec![],
///     end: PathEnd::Edge,
///     marked_channel: None,
///     leaving_area: Hectares::ZERO,
///     within_a_cell_of_line: false,
///     path: Metres::ZERO,
///     leaving_level: None,
///     fall: None,
///     deepest_fill: Metres::ZERO,
///     filled: None,
///     over_suspected_culvert: false,
///     divide_height: None,
///     is_remainder: false,
///     constraints: vec![],
/// };
/// let length = Metres::from_metres(240.0)?;
/// let frontage =
///     Frontage { feature, name, class, distance: Metres::ZERO, length, at_a_point: false, cut_off_by: None, lowest_ground: None };
/// let facts = ParcelFacts {
///     parcel: ParcelId::new("012"),
///     owner: None,
///     owned_since: None,
///     own_ha: ha,
///     area_ha: ha,
///     missing_ha: Hectares::ZERO,
///     entirely_outside: false,
///     frontage: vec![frontage],
///     assessments: vec![],
///     members: [].into(),
///     also_owned: vec![],
///     shares: vec![share],
///     piped: vec![],
///     cell: Metres::from_metres(2.0)?,
///     other_destination_beside: false,
///     elevation_rmse: None,
///     boundary_accuracy: Metres::from_metres(2.0)?,
///     abut_tolerance: Metres::from_metres(2.0)?,
/// };
/// let finding = judge(&facts, &Profile::shipped("ontario").expect("shipped"));
/// assert_eq!((finding.standing, finding.right), (Standing::Right, ha));
/// assert_eq!(finding.basis.as_deref(), Some("natural_watercourse"));
/// # Ok::<(), fallwright_units::NotFinite>(())
/// ```
pub fn judge(facts: &ParcelFacts, profile: &Profile) -> Finding {
    let claims: Vec<_> = facts.shares.iter().map(|share| claims(share, facts, profile)).collect();
    let whole_parcel = undecided_as_a_whole(facts, profile);
    let (pieces, excesses) = pieces_and_excesses(facts, &claims, whole_parcel, profile);
    let counted = counted(&pieces);
    let piped_claims = piped_claims(facts, profile);
    let piped = match whole_parcel {
        Some(reason) => undecided_piped(&piped_claims, reason),
        None => piped_pieces(&piped_claims, &demands(facts, &claims), facts, profile),
    };
    let all: Vec<&Piece> = counted.iter().copied().chain(&piped).collect();
    let bases = bases(&counted, profile);
    let Conclusion { standing, right, acquire, undecided, basis, outlet } =
        conclusion(&pieces, &counted, bases.first(), facts);
    let of_parcel = reasons_of_parcel(whole_parcel, &counted, &piped, facts, profile);
    let reasons = reasons(&of_parcel, &counted);
    let schedule = schedule_checks(facts, &claims, profile);
    Finding {
        standing,
        right,
        acquire,
        undecided,
        presumed: presumed(&pieces),
        shares: pieces.iter().filter_map(Piece::finding).collect(),
        basis,
        bases,
        outlet,
        confidence: confidence(&counted, &of_parcel, profile),
        field_checks: field_checks(&reasons),
        reasons,
        piped: piped_findings(&piped),
        evidence: evidence(facts, (&claims, &piped_claims), (&all, &of_parcel), &excesses, profile),
        excesses,
        ways: ways(&all, facts, profile),
        next_step: next_step(whole_parcel, (&pieces, &piped), &schedule, facts, profile),
        schedule,
    }
}

/// What somebody would act on: where a finding's conclusion changes, the finding changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Conclusion {
    pub standing: Standing,
    pub right: Hectares,
    pub acquire: Hectares,
    pub undecided: Hectares,
    pub basis: Option<String>,
    pub outlet: Option<Outlet>,
}

impl Conclusion {
    /// The conclusion of [`judge`], without the reasons, the evidence and the ways.
    ///
    /// *Complexity*: as [`judge`].
    pub fn on(facts: &ParcelFacts, profile: &Profile) -> Self {
        let claims: Vec<_> = facts.shares.iter().map(|share| claims(share, facts, profile)).collect();
        let (pieces, _) = pieces_and_excesses(facts, &claims, undecided_as_a_whole(facts, profile), profile);
        let counted = counted(&pieces);
        conclusion(&pieces, &counted, bases(&counted, profile).first(), facts)
    }

    /// The conclusion of a finding.
    pub fn of(finding: &Finding) -> Self {
        let Finding { standing, right, acquire, undecided, basis, outlet, .. } = finding;
        Self {
            standing: *standing,
            right: *right,
            acquire: *acquire,
            undecided: *undecided,
            basis: basis.clone(),
            outlet: outlet.clone(),
        }
    }
}

fn conclusion(pieces: &[Piece], counted: &[&Piece], basis: Option<&String>, facts: &ParcelFacts) -> Conclusion {
    Conclusion {
        standing: standing(counted),
        right: sum(pieces, ShareStanding::Right),
        acquire: sum(pieces, ShareStanding::Acquire),
        undecided: sum(pieces, ShareStanding::Undecided),
        basis: basis.cloned(),
        outlet: main_outlet(&facts.shares),
    }
}

fn undecided_as_a_whole(facts: &ParcelFacts, profile: &Profile) -> Option<Reason> {
    let missing = facts.missing_ha.hectares();
    let minimums = &profile.minimums;
    let too_much = missing > minimums.missing_elevation_ha.value
        && missing > minimums.missing_elevation_fraction.value * facts.area_ha.hectares();
    if facts.entirely_outside {
        Some(Reason::OutsideElevationData)
    } else if too_much {
        Some(Reason::ElevationMissing)
    } else if facts.shares.is_empty() {
        Some(Reason::SmallerThanACell)
    } else {
        None
    }
}

/// The pieces of the shares, and the drains to which more hectares drain than are assessed.
fn pieces_and_excesses<'a>(
    facts: &'a ParcelFacts,
    claims: &'a [Vec<Claim<'a>>],
    whole_parcel: Option<Reason>,
    profile: &Profile,
) -> (Vec<Piece<'a>>, Vec<Excess>) {
    if let Some(reason) = whole_parcel {
        return (undecided_pieces(facts, claims, reason), Vec::new());
    }
    let mut allotment = Allotment::new(&demands(facts, claims), profile);
    (judged_pieces(facts, claims, &mut allotment, profile), allotment.excesses())
}

fn undecided_pieces<'a>(facts: &'a ParcelFacts, claims: &'a [Vec<Claim<'a>>], reason: Reason) -> Vec<Piece<'a>> {
    let shares = facts.shares.iter().zip(claims).enumerate();
    let undecided = |(position, (share, claims)): (usize, (&'a ShareFacts, &'a Vec<Claim<'a>>))| {
        Piece::undecided(Origin::Surface(ShareIx(position)), share, claims, reason)
    };
    shares.map(undecided).collect()
}

fn judged_pieces<'a>(
    facts: &'a ParcelFacts,
    claims: &'a [Vec<Claim<'a>>],
    allotment: &mut Allotment<'a>,
    profile: &Profile,
) -> Vec<Piece<'a>> {
    let shares = facts.shares.iter().zip(claims.iter().map(Vec::as_slice));
    let mut pieces = Vec::new();
    for (position, (share, claims)) in shares.enumerate() {
        let origin = Origin::Surface(ShareIx(position));
        for (claim, hectares) in allotment.serve(share.hectares, claims) {
            let mut piece = match claim {
                Some(claim) => Piece::with_right(origin, share, claims, claim, facts, profile),
                None => Piece::without_right(origin, share, claims, facts, profile),
            };
            piece.hectares = hectares;
            if claim.is_some_and(|claim| allotment.exceeds_within_accuracy(&claim.outlet.feature)) {
                piece.reasons.push(Reason::ExceedsWithinAccuracy);
            }
            let doubts = doubts_on_path(&piece, facts, profile);
            piece.reasons.extend(doubts);
            piece.reasons.extend(lake_at_the_end(share));
            pieces.push(piece);
        }
    }
    pieces
}

/// The pieces that the standing rests on: those of the remainder only where there are no others.
pub(crate) fn counted<'p, 'a>(pieces: &'p [Piece<'a>]) -> Vec<&'p Piece<'a>> {
    let shares: Vec<_> = pieces.iter().filter(|piece| !piece.share.is_remainder).collect();
    if shares.is_empty() { pieces.iter().collect() } else { shares }
}

pub(crate) fn standing(pieces: &[&Piece]) -> Standing {
    let count = |standing| pieces.iter().filter(|piece| piece.standing == standing).count();
    match count(ShareStanding::Right) {
        _ if pieces.is_empty() => Standing::Undecided,
        rights if rights == pieces.len() => Standing::Right,
        0 if sum(pieces.iter().copied(), ShareStanding::Acquire)
            >= sum(pieces.iter().copied(), ShareStanding::Undecided) =>
        {
            Standing::Acquire
        }
        0 => Standing::Undecided,
        _ => Standing::RightInPart,
    }
}

fn sum<'p, 'a: 'p>(pieces: impl IntoIterator<Item = &'p Piece<'a>>, standing: ShareStanding) -> Hectares {
    let of_standing = pieces.into_iter().filter(|piece| piece.standing == standing);
    of_standing.fold(Hectares::ZERO, |sum, piece| sum + piece.hectares)
}

/// The hectares of each share with its claims.
fn demands<'a>(facts: &ParcelFacts, claims: &'a [Vec<Claim<'a>>]) -> Vec<(Hectares, &'a [Claim<'a>])> {
    facts.shares.iter().map(|share| share.hectares).zip(claims.iter().map(Vec::as_slice)).collect()
}

fn presumed(pieces: &[Piece]) -> Hectares {
    let presumed = pieces.iter().filter(|piece| piece.reasons.contains(&Reason::ScheduleNotSupplied));
    sum(presumed, ShareStanding::Right)
}

/// All reasons, sorted, each once.
fn reasons(of_parcel: &[Reason], pieces: &[&Piece]) -> Vec<Reason> {
    let of_pieces = pieces.iter().flat_map(|piece| &piece.reasons);
    let mut reasons: Vec<Reason> = of_pieces.chain(of_parcel).copied().collect();
    reasons.sort_unstable();
    reasons.dedup();
    reasons
}

/// Reasons that belong to no one share.
fn reasons_of_parcel(
    whole_parcel: Option<Reason>,
    pieces: &[&Piece],
    piped: &[Piece],
    facts: &ParcelFacts,
    profile: &Profile,
) -> Vec<Reason> {
    let mut reasons: Vec<Reason> = whole_parcel.into_iter().collect();
    let remainder_only = !pieces.is_empty() && pieces.iter().all(|piece| piece.share.is_remainder);
    reasons.extend(remainder_only.then_some(Reason::FindingRestsOnRemainder));
    let at_line = whole_parcel.is_none() && rests_on_cells_at_line(pieces, facts, profile);
    reasons.extend(at_line.then_some(Reason::CellsLargeAtLotLine));
    let lacks_right = whole_parcel.is_none() && pieces.iter().any(|piece| piece.standing != ShareStanding::Right);
    if lacks_right && facts.frontage_without_flow(profile).next().is_some() {
        reasons.push(Reason::FrontageWithoutFlow);
    }
    let unused = facts.assessments.iter().any(|assessment| is_unused(assessment, facts));
    reasons.extend((whole_parcel.is_none() && unused).then_some(Reason::AssessedButDrainingElsewhere));
    let leaves = facts.piped.iter().any(|piped| piped.leaving_watershed() > Hectares::ZERO);
    reasons.extend(leaves.then_some(Reason::PipedOutOfWatershed));
    let without_right = piped.iter().any(|piece| piece.standing == ShareStanding::Acquire);
    reasons.extend(without_right.then_some(Reason::PipedWaterWithoutRight));
    reasons
}

/// How sure the finding on a parcel is. Low where shares of low confidence hold more than the profile's fraction of the
/// hectares, else medium where those of low or medium confidence do, so that a small doubtful share does not cloud the
/// whole; and no higher than a reason that belongs to no one share leaves it.
fn confidence(pieces: &[&Piece], of_parcel: &[Reason], profile: &Profile) -> Confidence {
    let all: f64 = pieces.iter().map(|piece| piece.hectares.hectares()).sum();
    let at_most = |level: Confidence| -> f64 {
        let doubtful = pieces.iter().filter(|piece| piece.confidence() <= level);
        doubtful.map(|piece| piece.hectares.hectares()).sum()
    };
    let counts = |level| {
        let doubtful = at_most(level);
        doubtful > profile.minimums.doubtful_fraction.value * all
            || all == 0.0 && pieces.iter().any(|piece| piece.confidence() <= level)
    };
    let of_shares = [Confidence::Low, Confidence::Medium].into_iter().find(|&level| counts(level));
    let of_parcel = of_parcel.iter().map(|reason| reason.confidence()).min();
    of_shares.into_iter().chain(of_parcel).min().unwrap_or(Confidence::High)
}

/// What to look at or measure in the field about each reason, each once.
fn field_checks(reasons: &[Reason]) -> Vec<FieldCheck> {
    let mut checks: Vec<FieldCheck> = Vec::new();
    for check in reasons.iter().filter_map(|reason| reason.field_check()) {
        if !checks.contains(&check) {
            checks.push(check);
        }
    }
    checks
}

/// Classes that give a right, strongest first.
fn bases(pieces: &[&Piece], profile: &Profile) -> Vec<String> {
    let with_right = pieces.iter().filter(|piece| piece.standing == ShareStanding::Right);
    let claims: Vec<_> = with_right.flat_map(|piece| piece.claims).filter(|claim| claim.gives_right()).collect();
    let gives = |class: &&str| claims.iter().any(|claim| claim.class.id == *class);
    profile.class_ids().filter(gives).map(str::to_owned).collect()
}

/// First lawful outlet of the largest share; the first of equals, the remainder last.
fn main_outlet(shares: &[ShareFacts]) -> Option<Outlet> {
    let larger = |a: &ShareFacts, b: &ShareFacts| (!a.is_remainder, a.hectares) > (!b.is_remainder, b.hectares);
    let main = shares.iter().reduce(|best, share| if larger(share, best) { share } else { best })?;
    let outlet = main.outlets.first()?;
    Some(Outlet { feature: outlet.feature.clone(), class: outlet.class.clone() })
}

#[cfg(test)]
#[path = "judge_tests.rs"]
mod tests;
