//! Ways to acquire an outlet, as far as the profile offers them.

use std::collections::BTreeSet;

use fallwright_units::ParcelId;
use rustc_hash::{FxHashMap, FxHashSet};

use crate::provisions::touches;
use crate::share::Piece;
use crate::{
    Assessed, Consent, Land, LandOnPath, NamedOutlet, OutletOnPath, ParcelFacts, Profile, Provision, Reason,
    ShareStanding, Way, WayKind, WayRule, WayStep,
};

/// The ways for all pieces, in the profile's order: one for each kind and outlet, that of the largest share first. None
/// where nothing has to be acquired.
pub(crate) fn ways(pieces: &[&Piece], facts: &ParcelFacts, profile: &Profile) -> Vec<Way> {
    if pieces.iter().all(|piece| piece.standing != ShareStanding::Acquire) {
        return Vec::new();
    }
    let mut largest_first = pieces.to_vec();
    largest_first.sort_by(|a, b| b.share.hectares.hectares().total_cmp(&a.share.hectares.hectares()));
    let of_kind = |rule| {
        let courses = merged(largest_first.iter().filter_map(|piece| course(rule, piece, facts, profile)));
        courses.into_iter().map(|course| way(rule, course, facts, profile))
    };
    profile.ways().iter().flat_map(of_kind).collect()
}

/// Where a way leads, over whose land and for which shares.
struct Candidate<'a> {
    outlet: Option<&'a OutletOnPath>,
    crossed: Vec<ParcelId>,
    shares: BTreeSet<u32>,
    lands: Vec<LandOnPath>,
}

impl<'a> Candidate<'a> {
    fn new(piece: &Piece<'a>, outlet: Option<&'a OutletOnPath>, crossed: &[ParcelId]) -> Self {
        let is_crossed: FxHashSet<&ParcelId> = crossed.iter().collect();
        let lands = piece.share.lands.iter().filter(|on| match &on.land {
            Land::Parcel(parcel) => is_crossed.contains(parcel),
            Land::Road(_) => true,
            Land::Unowned => false,
        });
        let shares = BTreeSet::from([piece.share.share]);
        Self { outlet, crossed: crossed.to_vec(), shares, lands: lands.cloned().collect() }
    }

    fn to_first_outlet(piece: &Piece<'a>) -> Self {
        Self::new(piece, piece.share.outlets.first(), &piece.share.crossed())
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
        self.shares.extend(other.shares);
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
        (WayKind::LeadToOwnFrontage, ShareStanding::Right) => own_frontage(piece, facts),
        (WayKind::MutualAgreement, ShareStanding::Acquire) => agreement(piece, profile),
        (WayKind::Connection, ShareStanding::Acquire) => connection(piece, facts, profile),
        (WayKind::Petition, ShareStanding::Acquire) => petition(piece, facts, profile),
        (WayKind::Approval, ShareStanding::Acquire) => approval(piece, profile),
        (WayKind::WrittenPermissions, ShareStanding::Acquire) => {
            approval(piece, profile).filter(|course| !course.crossed.is_empty() || course.crosses_road())
        }
        (WayKind::RoadAuthorityPermission, ShareStanding::Acquire) => road_permission(piece, profile),
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
    Way {
        way: rule.way,
        label: rule.label.clone(),
        source: rule.source.clone(),
        confirmed: rule.confirmed,
        consents: if rule.consent { consents(rule, &course, facts, profile) } else { Vec::new() },
        documents: rule.documents.clone(),
        if_refused: rule.if_refused.clone(),
        shares: course.shares.into_iter().collect(),
        outlet: course.outlet.map(NamedOutlet::of),
        crossed: course.crossed,
        steps,
    }
}

/// Those who must agree: the owners of the land on the way, then the parties of the agreement that is to be joined.
fn consents(rule: &WayRule, course: &Candidate, facts: &ParcelFacts, profile: &Profile) -> Vec<Consent> {
    let on_way = course.lands.iter().map(|on| Consent { land: on.land.clone(), metres: Some(on.metres) });
    let mut consents: Vec<Consent> = on_way.collect();
    let joined = course.outlet.filter(|outlet| rule.way == WayKind::MutualAgreement && is_agreement(outlet, profile));
    let parties =
        joined.and_then(|outlet| facts.membership_of(&outlet.feature)).map_or(&[][..], |member| &member.parties);
    for party in parties.iter().map(|party| Land::Parcel(party.clone())) {
        if consents.iter().all(|known| known.land != party) {
            consents.push(Consent { land: party, metres: None });
        }
    }
    consents
}

/// The path meets the parcel's own frontage, but crosses a neighbour first.
fn own_frontage<'a>(piece: &Piece<'a>, facts: &ParcelFacts) -> Option<Candidate<'a>> {
    let outlet = piece.basis?.outlet;
    let over_neighbour = piece.reasons.contains(&Reason::WaterLeavesOverNeighbour);
    (over_neighbour && touches(&outlet.feature, facts))
        .then(|| Candidate::new(piece, Some(outlet), &outlet.crossed_before))
}

/// Somebody is there to agree with: owners on the way, a road authority, or the parties of an agreement drain.
fn agreement<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<Candidate<'a>> {
    let course = Candidate::to_first_outlet(piece);
    let with_parties = course.outlet.is_some_and(|outlet| is_agreement(outlet, profile));
    (with_parties || course.crosses_road() || !course.crossed.is_empty()).then_some(course)
}

fn is_agreement(outlet: &OutletOnPath, profile: &Profile) -> bool {
    profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::NamedParty)
}

/// The path meets a drain whose schedule lacks the parcel or some of its hectares.
fn connection<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let lacks = |outlet: &&OutletOnPath| {
        let scheduled =
            profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::AssessedBySchedule);
        scheduled
            && match facts.assessed_in(&outlet.feature) {
                Assessed::NotListed => true,
                Assessed::Hectares(_) => touches(&outlet.feature, facts),
                Assessed::NotSupplied => false,
            }
    };
    let outlet = piece.share.outlets.iter().find(lacks)?;
    Some(Candidate::new(piece, Some(outlet), &outlet.crossed_before))
}

/// Unless the parcel can connect to a drain that it touches.
fn petition<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Candidate<'a>> {
    let beside = |course: Candidate| course.outlet.is_some_and(|outlet| touches(&outlet.feature, facts));
    (!connection(piece, facts, profile).is_some_and(beside)).then(|| Candidate::to_first_outlet(piece))
}

/// It is asked once for all shares that run in a road ditch, wherever they lead.
fn road_permission<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<Candidate<'a>> {
    let by_permission =
        |class: &str| profile.class(class).is_some_and(|class| class.provision == Provision::WrittenPermission);
    let meets = piece.share.also_met.iter().any(|met| by_permission(&met.class));
    meets.then(|| Candidate::new(piece, None, &[]))
}

/// The path meets an outlet that needs an approval.
fn approval<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<Candidate<'a>> {
    let needs_one = |outlet: &&OutletOnPath| {
        profile
            .class(&outlet.class)
            .is_some_and(|class| matches!(class.provision, Provision::Approval | Provision::PermissionOfEveryParcel))
    };
    let outlet = piece.share.outlets.iter().find(needs_one)?;
    Some(Candidate::new(piece, Some(outlet), &outlet.crossed_before))
}

/// The profile's steps; those about the parcels crossed are left out where none is.
fn steps(rule: &WayRule, course: &Candidate) -> Vec<WayStep> {
    let applies = |step: &&String| !(course.crossed.is_empty() && step.contains("{parcels}"));
    rule.steps.iter().filter(applies).cloned().map(WayStep::OfProfile).collect()
}
