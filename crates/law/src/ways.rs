//! Ways to acquire an outlet, as far as the profile offers them.

use std::collections::BTreeSet;

use fallwright_units::{Hectares, ParcelId};
use rustc_hash::{FxHashMap, FxHashSet};

use crate::own_frontage::can_be_led;
use crate::provisions::touches;
use crate::share::{ACROSS, Claim, Piece, lands_to_ask, road_ditch_without_permission};
use crate::{
    Assessed, Consent, Consenting, ConstraintOnPath, Land, LandOnPath, NamedOutlet, OutletOnPath, ParcelFacts, Profile,
    Provision, Reason, ShareStanding, Way, WayKind, WayRule, WayStep,
};

/// The ways for all pieces, in the profile's order: one for each kind and outlet, that of the largest share first, then piped
/// water. None where nothing has to be acquired, no document is missing that a connection would have to wait for, and no right
/// leads through a road ditch; those of the surface water are left out where nothing is wrong but with a pipe.
pub(crate) fn ways(pieces: &[&Piece], facts: &ParcelFacts, profile: &Profile) -> Vec<Way> {
    let of_water = |is_piped: bool| -> Vec<&Piece> {
        let mut pieces: Vec<&Piece> =
            pieces.iter().copied().filter(|piece| piece.pipe().is_some() == is_piped).collect();
        if !pieces.iter().any(|piece| needs_way(piece)) {
            return Vec::new();
        }
        pieces.sort_by(|a, b| b.share.hectares.hectares().total_cmp(&a.share.hectares.hectares()));
        pieces
    };
    let largest_first = [of_water(false), of_water(true)].concat();
    let of_kind = |rule| {
        let courses = merged(largest_first.iter().filter_map(|piece| course(rule, piece, facts, profile)));
        courses.into_iter().map(|course| way(rule, course, facts, profile))
    };
    profile.ways().iter().flat_map(of_kind).collect()
}

fn needs_way(piece: &Piece) -> bool {
    piece.standing == ShareStanding::Acquire
        || awaits_document(piece)
        || is_under_neighbour(piece)
        || piece.reasons.contains(&Reason::RoadDitchOnTheWay)
}

/// A pipe under neighbours needs their agreement even where there is a right to the outlet.
fn is_under_neighbour(piece: &Piece) -> bool {
    piece.standing == ShareStanding::Right && piece.reasons.contains(&Reason::PipedUnderNeighbour)
}

/// Undecided only because a schedule is not supplied or not clear.
fn awaits_document(piece: &Piece) -> bool {
    let open = [Reason::ScheduleNotSupplied, Reason::AssessedForBenefitOnly];
    piece.standing == ShareStanding::Undecided && open.iter().any(|reason| piece.reasons.contains(reason))
}

/// Where a way leads, over whose land and for which shares.
struct Candidate<'a> {
    outlet: Option<&'a OutletOnPath>,
    /// What takes the water at the end of the way, where somebody may have to agree to that; each once.
    ends_in: Vec<&'a OutletOnPath>,
    crossed: Vec<ParcelId>,
    shares: BTreeSet<u32>,
    cures: Hectares,
    /// In the order of the facts, each once.
    pipes: Vec<&'a str>,
    cures_piped: Hectares,
    lands: Vec<LandOnPath>,
    constraints: Vec<ConstraintOnPath>,
}

impl<'a> Candidate<'a> {
    fn new(
        piece: &Piece<'a>,
        outlet: Option<&'a OutletOnPath>,
        crossed: &[ParcelId],
        (facts, profile): (&ParcelFacts, &Profile),
    ) -> Self {
        let is_crossed: FxHashSet<&ParcelId> = crossed.iter().collect();
        let on_way = |on: &&LandOnPath| !matches!(&on.land, Land::Parcel(parcel) if !is_crossed.contains(parcel));
        let lands = lands_to_ask(piece.share, facts, profile).into_iter().filter(on_way);
        let pipe = piece.pipe();
        let (cures, cures_piped) =
            if pipe.is_some() { (Hectares::ZERO, piece.hectares) } else { (piece.hectares, Hectares::ZERO) };
        Self {
            outlet,
            ends_in: Vec::new(),
            crossed: crossed.to_vec(),
            shares: if pipe.is_some() { BTreeSet::new() } else { BTreeSet::from([piece.share.share]) },
            cures,
            pipes: pipe.into_iter().collect(),
            cures_piped,
            lands: lands.cloned().collect(),
            constraints: piece.share.constraints.clone(),
        }
    }

    /// The same way, whose water goes into that outlet: the municipality has to agree and to assess where it is a municipal
    /// drain, the parties where it is an agreement drain.
    fn ending_in(self, outlet: Option<&'a OutletOnPath>) -> Self {
        Self { ends_in: outlet.into_iter().collect(), ..self }
    }

    fn to_first_outlet(piece: &Piece<'a>, rules: (&ParcelFacts, &Profile)) -> Self {
        Self::new(piece, piece.share.outlets.first(), &piece.share.crossed(), rules)
    }

    fn feature(&self) -> Option<&'a str> {
        self.outlet.map(|outlet| outlet.feature.as_str())
    }

    fn crosses_road(&self) -> bool {
        self.lands.iter().any(|on| matches!(on.land, Land::Road(_)))
    }

    fn take_in(&mut self, other: Self) {
        let known: FxHashSet<ParcelId> = self.crossed.iter().cloned().collect();
        self.crossed.extend(other.crossed.into_iter().filter(|parcel| !known.contains(parcel)));
        let place: FxHashMap<Land, usize> =
            self.lands.iter().enumerate().map(|(place, on)| (on.land.clone(), place)).collect();
        for on in other.lands {
            match place.get(&on.land).map(|&place| &mut self.lands[place]) {
                Some(known) => known.metres = if on.metres > known.metres { on.metres } else { known.metres },
                None => self.lands.push(on),
            }
        }
        for met in other.constraints {
            match self.constraints.iter_mut().find(|known| known.constraint == met.constraint) {
                Some(known) if met.metres > known.metres => *known = met,
                Some(_) => {}
                None => self.constraints.push(met),
            }
        }
        self.shares.extend(other.shares);
        self.cures = self.cures + other.cures;
        let new: Vec<&str> = other.pipes.into_iter().filter(|pipe| !self.pipes.contains(pipe)).collect();
        self.pipes.extend(new);
        self.cures_piped = self.cures_piped + other.cures_piped;
        for outlet in other.ends_in {
            if self.ends_in.iter().all(|known| known.feature != outlet.feature) {
                self.ends_in.push(outlet);
            }
        }
    }
}

/// One course for each outlet.
fn merged<'a>(courses: impl Iterator<Item = Candidate<'a>>) -> Vec<Candidate<'a>> {
    let mut by_outlet: Vec<Candidate> = Vec::new();
    for course in courses {
        match by_outlet.iter_mut().find(|known| known.feature() == course.feature()) {
            Some(known) => known.take_in(course),
            None => by_outlet.push(course),
        }
    }
    by_outlet
}

/// The course that a way of this kind takes for a piece, where it is offered.
fn course<'a>(rule: &WayRule, piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    match (rule.way, piece.standing) {
        (WayKind::LeadToOwnFrontage, ShareStanding::Right) => own_frontage(piece, facts, profile),
        (WayKind::LeadToOwnFrontage, ShareStanding::Acquire) => led_on_own_land(piece, facts, profile),
        (WayKind::MutualAgreement, ShareStanding::Acquire) => agreement(piece, facts, profile),
        (WayKind::MutualAgreement, ShareStanding::Right) if is_under_neighbour(piece) => {
            agreement(piece, facts, profile)
        }
        (WayKind::Connection, ShareStanding::Acquire) => connection(piece, facts, profile),
        (WayKind::Connection, ShareStanding::Undecided) if awaits_document(piece) => connection(piece, facts, profile),
        (WayKind::Petition, ShareStanding::Acquire) => petition(piece, facts, profile),
        (WayKind::Approval, ShareStanding::Acquire) => approval(piece, facts, profile),
        (WayKind::WrittenPermissions, ShareStanding::Acquire) => written_permissions(piece, facts, profile),
        (WayKind::RoadAuthorityPermission, ShareStanding::Acquire | ShareStanding::Right) => {
            road_permission(piece, facts, profile)
        }
        _ => None,
    }
}

fn way(rule: &WayRule, course: Candidate, facts: &ParcelFacts, profile: &Profile) -> Way {
    let mut steps = steps(rule, &course);
    if rule.way == WayKind::MutualAgreement && course.outlet.is_some_and(|outlet| is_agreement(outlet, profile)) {
        steps.insert(0, WayStep::AskParties);
    }
    if course.crosses_road() && rule.consent && rule.way != WayKind::RoadAuthorityPermission {
        if course.crossed.is_empty() {
            steps.insert(0, WayStep::AskRoadAuthority);
        } else {
            steps.push(WayStep::RoadAuthorityMustAgreeToo);
        }
    }
    if rule.way == WayKind::RoadAuthorityPermission && !course.crossed.is_empty() {
        steps.push(WayStep::AgreeOnWayToDitch);
    }
    if rule.way != WayKind::Connection {
        let drains = course.ends_in.iter().filter(|outlet| is_assessed(outlet, profile));
        steps.extend(drains.map(|drain| WayStep::MunicipalityMustAssess(NamedOutlet::of(drain))));
    }
    if runs_along_path(rule.way) {
        steps.extend(about_constraints(&course.constraints, profile));
    }
    Way {
        way: rule.way,
        label: rule.label.clone(),
        source: rule.source.clone(),
        confirmed: rule.confirmed,
        consents: if rule.consent { consents(rule, &course, facts, profile) } else { Vec::new() },
        documents: rule.documents.clone(),
        if_refused: rule.if_refused.clone(),
        shares: course.shares.into_iter().collect(),
        cures: course.cures,
        pipes: course.pipes.into_iter().map(ToOwned::to_owned).collect(),
        cures_piped: course.cures_piped,
        outlet: course.outlet.map(NamedOutlet::of),
        crossed: course.crossed,
        steps,
    }
}

/// Whether the works of a way would run where the water runs now. Water that is led to own frontage takes another way, and a
/// permission to use a ditch asks for no works.
const fn runs_along_path(way: WayKind) -> bool {
    match way {
        WayKind::MutualAgreement
        | WayKind::Connection
        | WayKind::Petition
        | WayKind::Approval
        | WayKind::WrittenPermissions => true,
        WayKind::LeadToOwnFrontage | WayKind::RoadAuthorityPermission => false,
    }
}

/// A step for each who is to be asked, in the order in which the constraints are met.
fn about_constraints(met: &[ConstraintOnPath], profile: &Profile) -> Vec<WayStep> {
    let mut asked: Vec<(&str, Vec<ConstraintOnPath>)> = Vec::new();
    for constraint in met {
        let who = profile.ask_about(&constraint.kind);
        match asked.iter_mut().find(|(known, _)| *known == who) {
            Some((_, of_them)) => of_them.push(constraint.clone()),
            None => asked.push((who, vec![constraint.clone()])),
        }
    }
    let step = |(who, met): (&str, _)| WayStep::AskAboutConstraints { who: who.to_owned(), met };
    asked.into_iter().map(step).collect()
}

/// Those who must agree: the owners of the land on the way, the parties of the agreement that is to be joined and those on whose
/// land its drain runs without their being parties, and the municipality whose drain takes the water. Nobody agrees with
/// himself, and whose written permission is held is not asked again.
fn consents(rule: &WayRule, course: &Candidate, facts: &ParcelFacts, profile: &Profile) -> Vec<Consent> {
    let held = |land: &Land| rule.way == WayKind::WrittenPermissions && holds_permission(land, course, facts);
    let on_way = course.lands.iter().filter(|on| !held(&on.land));
    let mut consents: Vec<Consent> =
        on_way.map(|on| Consent { who: Consenting::Land(on.land.clone()), metres: Some(on.metres) }).collect();
    let joined = course.ends_in.iter().filter(|outlet| is_agreement(outlet, profile));
    let members = joined.filter_map(|outlet| facts.membership_of(&outlet.feature));
    let concerned = members.flat_map(|member| member.parties.iter().chain(&member.runs_over));
    let others = concerned.filter(|&party| facts.is_of_another(party));
    for party in others.map(|party| Consenting::Land(Land::Parcel(party.clone()))) {
        if consents.iter().all(|known| known.who != party) {
            consents.push(Consent { who: party, metres: None });
        }
    }
    let drains = course.ends_in.iter().filter(|outlet| is_assessed(outlet, profile));
    let municipality = drains.map(|drain| Consenting::Municipality { drain: NamedOutlet::of(drain) });
    consents.extend(municipality.map(|who| Consent { who, metres: None }));
    consents
}

/// Whether the approval for the outlet already names the land.
fn holds_permission(land: &Land, course: &Candidate, facts: &ParcelFacts) -> bool {
    let member = course.outlet.and_then(|outlet| facts.membership_of(&outlet.feature));
    matches!(land, Land::Parcel(parcel) if member.is_some_and(|member| member.names(parcel)))
}

/// The path meets the parcel's own frontage, but crosses a neighbour or runs in a road ditch first. Water out of another
/// watershed has no place there.
fn own_frontage<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let outlet = match piece.standing {
        ShareStanding::Right => piece.basis?.outlet,
        _ => piece.share.outlets.iter().find(|outlet| is_by_frontage(outlet, profile))?,
    };
    let over_others = match piece.standing {
        ShareStanding::Right => {
            let of_others = ACROSS.iter().chain(&[Reason::RoadDitchOnTheWay]);
            of_others.into_iter().any(|reason| piece.reasons.contains(reason))
        }
        _ => piece.reasons.contains(&Reason::CollectedWaterOnNeighbour),
    };
    let leaves = piece.reasons.contains(&Reason::PipedOutOfWatershed);
    (over_others && !leaves && can_be_led(piece.share, outlet, facts, profile))
        .then(|| Candidate::new(piece, Some(outlet), &outlet.crossed_before, (facts, profile)))
}

/// Own frontage to which a share without a right may be led.
pub(crate) fn led_to_own_frontage<'a>(
    piece: &Piece<'a>,
    facts: &ParcelFacts,
    profile: &Profile,
) -> Option<&'a OutletOnPath> {
    led_on_own_land(piece, facts, profile)?.outlet
}

fn led_on_own_land<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    own_frontage(piece, facts, profile).or_else(|| frontage_farther_down(piece, facts, profile))
}

/// The path enters a drain that does not admit the parcel, and goes on to a watercourse on which the parcel has frontage: the
/// water may be led there on own land, past the drain.
fn frontage_farther_down<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let leads = |claim: &&Claim<'a>| {
        claim.is_beyond_drain()
            && claim.class.provision == Provision::Frontage
            && !piece.reasons.contains(&Reason::PipedOutOfWatershed)
            && can_be_led(piece.share, claim.outlet, facts, profile)
    };
    let outlet = piece.claims.iter().find(leads)?.outlet;
    Some(Candidate::new(piece, Some(outlet), &outlet.crossed_before, (facts, profile)))
}

/// Somebody is there to agree with: owners on the way, a road authority, or the parties of an agreement drain. Not where
/// nothing is wrong but hectares beyond an assessment, which no neighbour can give.
fn agreement<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let course = Candidate::to_first_outlet(piece, (facts, profile)).ending_in(piece.share.outlets.first());
    let with_parties = course.outlet.is_some_and(|outlet| is_agreement(outlet, profile));
    let somebody = with_parties || course.crosses_road() || !course.crossed.is_empty();
    (somebody && !piece.reasons.contains(&Reason::ExceedsAssessedHectares)).then_some(course)
}

fn is_agreement(outlet: &OutletOnPath, profile: &Profile) -> bool {
    profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::NamedParty)
}

fn is_by_frontage(outlet: &OutletOnPath, profile: &Profile) -> bool {
    profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::Frontage)
}

pub(crate) fn is_assessed(outlet: &OutletOnPath, profile: &Profile) -> bool {
    profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::AssessedBySchedule)
}

/// The path meets a drain whose schedule lacks the parcel or some of its hectares, or is not at hand.
fn connection<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let lacks = |outlet: &&OutletOnPath| {
        let is_open = match facts.assessed_in(&outlet.feature) {
            Assessed::NotListed | Assessed::BenefitOnly => true,
            Assessed::Hectares(_) => touches(&outlet.feature, facts),
            Assessed::NotSupplied => awaits_document(piece),
        };
        is_assessed(outlet, profile) && is_open
    };
    let outlet = piece.share.outlets.iter().find(lacks)?;
    Some(Candidate::new(piece, Some(outlet), &outlet.crossed_before, (facts, profile)).ending_in(Some(outlet)))
}

/// Unless the parcel can connect to a drain that it touches.
fn petition<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let beside = |course: Candidate| course.outlet.is_some_and(|outlet| touches(&outlet.feature, facts));
    (!connection(piece, facts, profile).is_some_and(beside))
        .then(|| Candidate::to_first_outlet(piece, (facts, profile)))
}

/// It is asked once for all shares that run in a road ditch without permission, wherever they lead; the owners between the
/// parcel and the ditch must agree as well.
///
/// A permission is no right, so that it cures nothing.
fn road_permission<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let ditch = road_ditch_without_permission(piece.share, facts, profile)?;
    let course =
        Candidate::new(piece, None, &ditch.crossed_before, (facts, profile)).ending_in(piece.share.outlets.first());
    Some(Candidate { cures: Hectares::ZERO, cures_piped: Hectares::ZERO, ..course })
}

/// The path meets an outlet that needs an approval, which the parcel does not hold.
fn approval<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let outlet = needing_approval(piece, profile)?;
    let is_held = facts.membership_of(&outlet.feature).is_some_and(|member| member.names(&facts.parcel));
    (!is_held).then(|| Candidate::new(piece, Some(outlet), &outlet.crossed_before, (facts, profile)))
}

/// The path crosses others to an outlet that needs an approval, and not all of them have given their permission.
fn written_permissions<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let outlet = needing_approval(piece, profile)?;
    let course = Candidate::new(piece, Some(outlet), &outlet.crossed_before, (facts, profile));
    course.lands.iter().any(|on| !holds_permission(&on.land, &course, facts)).then_some(course)
}

fn needing_approval<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<&'a OutletOnPath> {
    let needs_one = |outlet: &&OutletOnPath| {
        profile
            .class(&outlet.class)
            .is_some_and(|class| matches!(class.provision, Provision::Approval | Provision::PermissionOfEveryParcel))
    };
    piece.share.outlets.iter().find(needs_one)
}

/// The profile's steps; those about the parcels crossed are left out where none is.
fn steps(rule: &WayRule, course: &Candidate) -> Vec<WayStep> {
    let applies = |step: &&String| !(course.crossed.is_empty() && step.contains("{parcels}"));
    rule.steps.iter().filter(applies).cloned().map(WayStep::OfProfile).collect()
}

#[cfg(test)]
#[path = "ways_tests.rs"]
mod tests;
