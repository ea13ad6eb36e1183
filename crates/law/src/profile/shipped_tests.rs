//! The same facts under every shipped profile: where the standings differ, and why.

use super::{ClassKind, Profile};
use crate::example::{assessed, assessment, at, meets, parcel, parcels, share};
use crate::{Assessed, Membership, ParcelFacts, Reason, Standing, WayKind, judge};

/// Standing and basis under ontario, iowa, manitoba and saskatchewan.
fn check(facts: &ParcelFacts, expected: [(Standing, &[Reason]); 4]) {
    for (name, (standing, reasons)) in Profile::SHIPPED.into_iter().zip(expected) {
        let found = judge(facts, &Profile::shipped(name).unwrap());
        assert_eq!((found.standing, found.reasons.as_slice()), (standing, reasons), "{name}");
    }
}

fn named(feature: &str, ids: &[&str]) -> Membership {
    Membership {
        feature: feature.to_owned(),
        parties: parcels(ids),
        runs_over: Vec::new(),
        agreed: None,
        registered: None,
    }
}

const NOT_SUPPLIED: (Standing, &[Reason]) =
    (Standing::Acquire, &[Reason::ApprovalNotSupplied, Reason::NaturalSurfaceFlow]);

/// Frontage gives a right in Ontario, natural flow one in Iowa; elsewhere no work stands without an approval.
#[test]
fn land_on_a_creek() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "MC", "natural_watercourse", &[])]);
    facts.frontage = vec![at(0.0, "MC", "natural_watercourse")];
    let iowa: (Standing, &[Reason]) = (Standing::Right, &[Reason::RuleNotConfirmed]);
    check(&facts, [(Standing::Right, &[]), iowa, NOT_SUPPLIED, NOT_SUPPLIED]);
    facts.members = [named("MC", &["100"])].into();
    let right: (Standing, &[Reason]) = (Standing::Right, &[]);
    check(&facts, [right, iowa, right, right]);
}

/// Two neighbours lie between: natural flow must be taken by them, frontage is missing, an approval alone is enough in
/// Manitoba, and Saskatchewan asks for both neighbours' permission.
#[test]
fn land_behind_two_neighbours() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "MC", "natural_watercourse", &["101", "102"])]);
    let ontario: (Standing, &[Reason]) = (Standing::Acquire, &[Reason::NoFrontage, Reason::NaturalSurfaceFlow]);
    let iowa: (Standing, &[Reason]) = (Standing::Right, &[Reason::NaturalFlowOverNeighbour, Reason::RuleNotConfirmed]);
    check(&facts, [ontario, iowa, NOT_SUPPLIED, NOT_SUPPLIED]);
    facts.members = [named("MC", &["100", "101"])].into();
    let manitoba: (Standing, &[Reason]) = (Standing::Right, &[Reason::WaterLeavesOverNeighbour]);
    let saskatchewan: (Standing, &[Reason]) =
        (Standing::Acquire, &[Reason::PermissionsMissing, Reason::NaturalSurfaceFlow]);
    check(&facts, [ontario, iowa, manitoba, saskatchewan]);
    facts.members = [named("MC", &["100", "101", "102"])].into();
    check(&facts, [ontario, iowa, manitoba, (Standing::Right, &[])]);
}

/// On a public drain and on its roll: the roll gives the right in Ontario and Iowa, and says nothing elsewhere.
#[test]
fn land_on_a_drain_and_on_its_roll() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "D-07", "municipal_drain", &[])]);
    facts.frontage = vec![at(0.0, "D-07", "municipal_drain")];
    facts.assessments = vec![assessment("D-07", assessed(20.0))];
    check(&facts, [(Standing::Right, &[]), (Standing::Right, &[]), NOT_SUPPLIED, NOT_SUPPLIED]);
    facts.assessments[0].assessed = Assessed::NotListed;
    let unlisted: (Standing, &[Reason]) = (Standing::Acquire, &[Reason::NotInSchedule, Reason::NaturalSurfaceFlow]);
    check(&facts, [unlisted, unlisted, NOT_SUPPLIED, NOT_SUPPLIED]);
}

#[test]
fn each_profile_offers_its_own_ways() {
    use WayKind::{Approval, Connection, MutualAgreement, Petition, WrittenPermissions};
    let mut facts = parcel(vec![meets(share(1, 20.0), "D-07", "municipal_drain", &["101"])]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    let ways = |name: &str| -> Vec<WayKind> {
        judge(&facts, &Profile::shipped(name).unwrap()).ways.iter().map(|way| way.way).collect()
    };
    assert_eq!(ways("ontario"), [MutualAgreement, Connection, Petition]);
    assert_eq!(ways("iowa"), [MutualAgreement, Connection, Petition]);
    assert_eq!(ways("manitoba"), [Approval, MutualAgreement]);
    assert_eq!(ways("saskatchewan"), [Approval, WrittenPermissions]);
}

/// What rests on memory says so, in every profile.
#[test]
fn sources_from_memory_are_not_confirmed() {
    for profile in Profile::SHIPPED.map(|name| Profile::shipped(name).unwrap()) {
        let from_memory = |source: &str| source.ends_with("from memory") && !source.contains(':');
        let confirmed = profile.classes().iter().filter(|class| class.confirmed).map(|class| &class.source);
        let confirmed = confirmed.chain(profile.ways().iter().filter(|way| way.confirmed).map(|way| &way.source));
        for source in confirmed {
            assert!(!from_memory(source), "{}: {source}", profile.id);
        }
    }
}

/// What a class is does not depend on the jurisdiction.
#[test]
fn kinds_are_the_same_everywhere() {
    use ClassKind::{Channel, Ditch, Lake, LegalDrain, Pipe};
    let expected = [Channel, Lake, LegalDrain, LegalDrain, LegalDrain, Ditch, Ditch, Pipe];
    for name in Profile::SHIPPED {
        let kinds: Vec<ClassKind> = Profile::shipped(name).unwrap().classes().iter().map(|class| class.kind).collect();
        assert_eq!(kinds, expected, "{name}");
    }
}

/// Whoever drains land anywhere knows whom to ask about what is in the way, and no shipped answer is confirmed yet.
#[test]
fn kinds_of_constraints_are_the_same_everywhere() {
    for profile in Profile::SHIPPED.map(|name| Profile::shipped(name).unwrap()) {
        let kinds: Vec<&str> = profile.constraints().iter().map(|rule| rule.kind.as_str()).collect();
        assert_eq!(kinds, ["wetland", "regulated_area", "fish_habitat", "utility"], "{}", profile.id);
        assert!(profile.constraints().iter().all(|rule| !rule.confirmed), "{}", profile.id);
    }
}

/// A case file's words mean something in every profile.
#[test]
fn class_ids_are_the_same_everywhere() {
    let ids = |name: &str| -> Vec<String> { Profile::shipped(name).unwrap().class_ids().map(str::to_owned).collect() };
    for name in Profile::SHIPPED {
        assert_eq!(ids(name), ids("ontario"), "{name}");
    }
}
