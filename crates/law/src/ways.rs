//! Ways to acquire an outlet, as far as the profile offers them.

use fallwright_units::ParcelId;

use crate::profile::{WayRule, quoted};
use crate::provisions::touches;
use crate::share::Piece;
use crate::wording::{feature_name, list_parcels};
use crate::{OutletOnPath, ParcelFacts, Profile, Provision, Reason, ShareStanding, Way, WayKind};

/// The ways for all pieces, in the profile's order, each once with the shares it serves; none where nothing has to be
/// acquired.
pub(crate) fn ways(pieces: &[&Piece], facts: &ParcelFacts, profile: &Profile) -> Vec<Way> {
    let mut ways: Vec<Way> = Vec::new();
    if pieces.iter().all(|piece| piece.standing != ShareStanding::Acquire) {
        return ways;
    }
    for rule in profile.ways() {
        for piece in pieces {
            let Some(way) = offer(rule, piece, facts, profile) else { continue };
            match ways.iter_mut().find(|known| known.way == way.way && known.steps == way.steps) {
                Some(known) if known.shares.contains(&piece.share.share) => {}
                Some(known) => known.shares.push(piece.share.share),
                None => ways.push(way),
            }
        }
    }
    ways
}

/// Where a way leads and over whose land.
struct Course<'a> {
    outlet: Option<&'a OutletOnPath>,
    crossed: &'a [ParcelId],
}

fn offer(rule: &WayRule, piece: &Piece, facts: &ParcelFacts, profile: &Profile) -> Option<Way> {
    let course = match (rule.way, piece.standing) {
        (WayKind::LeadToOwnFrontage, ShareStanding::Right) => own_frontage(piece, facts),
        (WayKind::MutualAgreement, ShareStanding::Acquire) => agreement(piece, profile),
        (WayKind::ConnectionToMunicipalDrain, ShareStanding::Acquire) => connection(piece, facts, profile),
        (WayKind::PetitionMunicipalDrain, ShareStanding::Acquire) => petition(piece, facts, profile),
        (WayKind::RoadAuthorityPermission, ShareStanding::Acquire) => road_permission(piece, profile),
        _ => None,
    }?;
    let mut steps = steps(rule, &course);
    if rule.way == WayKind::MutualAgreement && course.outlet.is_some_and(|outlet| is_agreement(outlet, profile)) {
        let outlet = course.outlet.map(|outlet| feature_name(&outlet.feature, outlet.name.as_deref()));
        steps.insert(0, format!("Ask the parties of {} to take the parcel in.", outlet.unwrap_or_default()));
    }
    if piece.share.crosses_road && matches!(rule.way, WayKind::MutualAgreement | WayKind::ConnectionToMunicipalDrain) {
        let (place, step) = if course.crossed.is_empty() {
            (0, "Ask the road authority to agree: the water crosses its road on the way.")
        } else {
            (steps.len(), "The water crosses a road on the way: its road authority must agree too.")
        };
        steps.insert(place, step.to_owned());
    }
    let through = if rule.way == WayKind::LeadToOwnFrontage { Vec::new() } else { course.crossed.to_vec() };
    let (label, source) = (rule.label.clone(), quoted(&rule.source, rule.confirmed));
    Some(Way { way: rule.way, label, source, shares: vec![piece.share.share], through, steps })
}

/// The path meets the parcel's own frontage, but crosses a neighbour first.
fn own_frontage<'a>(piece: &Piece<'a>, facts: &ParcelFacts) -> Option<Course<'a>> {
    let outlet = piece.basis?.outlet;
    let over_neighbour = piece.reasons.contains(&Reason::WaterLeavesOverNeighbour);
    (over_neighbour && touches(&outlet.feature, facts))
        .then_some(Course { outlet: Some(outlet), crossed: &outlet.crossed_before })
}

/// Somebody is there to agree with: owners on the way, a road authority, or the parties of an agreement drain.
fn agreement<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<Course<'a>> {
    let course = first_outlet(piece);
    let with_parties = course.outlet.is_some_and(|outlet| is_agreement(outlet, profile));
    (with_parties || piece.share.crosses_road || !course.crossed.is_empty()).then_some(course)
}

fn is_agreement(outlet: &OutletOnPath, profile: &Profile) -> bool {
    profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::NamedParty)
}

/// The path meets a drain whose schedule lacks the parcel or some of its hectares.
fn connection<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Course<'a>> {
    let lacks = |outlet: &&OutletOnPath| {
        let scheduled =
            profile.class(&outlet.class).is_some_and(|class| class.provision == Provision::AssessedBySchedule);
        let listed = facts.assessment_in(&outlet.feature).map(|assessment| assessment.hectares.is_some());
        scheduled && (listed == Some(false) || listed == Some(true) && touches(&outlet.feature, facts))
    };
    let outlet = piece.share.outlets.iter().find(lacks)?;
    Some(Course { outlet: Some(outlet), crossed: &outlet.crossed_before })
}

/// Unless the parcel can connect to a drain that it touches.
fn petition<'a>(piece: &Piece<'a>, facts: &ParcelFacts, profile: &Profile) -> Option<Course<'a>> {
    let beside = |course: Course| course.outlet.is_some_and(|outlet| touches(&outlet.feature, facts));
    (!connection(piece, facts, profile).is_some_and(beside)).then(|| first_outlet(piece))
}

fn road_permission<'a>(piece: &Piece<'a>, profile: &Profile) -> Option<Course<'a>> {
    let by_permission =
        |class: &str| profile.class(class).is_some_and(|class| class.provision == Provision::WrittenPermission);
    let meets = piece.share.also_met.iter().any(|met| by_permission(&met.class));
    meets.then(|| Course { outlet: piece.share.outlets.first(), crossed: &[] })
}

fn first_outlet<'a>(piece: &Piece<'a>) -> Course<'a> {
    Course { outlet: piece.share.outlets.first(), crossed: &piece.share.crossed }
}

/// The profile's steps with the names filled in; those that speak of parcels are left out where none is crossed.
fn steps(rule: &WayRule, course: &Course) -> Vec<String> {
    let outlet = course
        .outlet
        .map_or_else(|| "a lawful outlet".to_owned(), |outlet| feature_name(&outlet.feature, outlet.name.as_deref()));
    let parcels = list_parcels(course.crossed);
    let applies = |step: &&String| !(course.crossed.is_empty() && step.contains("{parcels}"));
    let filled = |step: &String| step.replace("{outlet}", &outlet).replace("{parcels}", &parcels);
    rule.steps.iter().filter(applies).map(filled).collect()
}
