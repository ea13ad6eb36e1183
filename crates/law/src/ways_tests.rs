//! Whom a way has asked about what its works would meet.

use fallwright_units::ConstraintIx;

use super::*;
use crate::example::{assessment, meets, metres, ontario, parcel, share};
use crate::{ShareFacts, judge};

/// A constraint of the case, met over some metres.
fn met(position: usize, kind: &str, length_m: f64) -> ConstraintOnPath {
    ConstraintOnPath {
        constraint: ConstraintIx(position),
        kind: kind.to_owned(),
        id: Some(format!("X-{position}")),
        name: None,
        class: None,
        metres: metres(length_m),
        places: 1,
    }
}

/// A share that drains over a neighbour into a creek on which it has no frontage.
fn over_neighbour(number: u32, hectares: f64, constraints: Vec<ConstraintOnPath>) -> ShareFacts {
    let share = meets(share(number, hectares), "MC", "natural_watercourse", &["101"]);
    ShareFacts { constraints, ..share }
}

/// Who is asked, and about which constraints over how many metres.
type Asked = (String, Vec<(usize, f64)>);

/// Who is asked about which constraints over how many metres, by each way that says so.
fn asked(facts: &ParcelFacts) -> Vec<(WayKind, Vec<Asked>)> {
    let of_step = |step: &WayStep| match step {
        WayStep::AskAboutConstraints { who, met } => {
            let met = met.iter().map(|met| (met.constraint.0, met.metres.metres())).collect();
            Some((who.clone(), met))
        }
        _ => None,
    };
    let ways = judge(facts, &ontario()).ways;
    ways.iter().map(|way| (way.way, way.steps.iter().filter_map(of_step).collect())).collect()
}

/// The same expected of every way, which are these.
#[track_caller]
fn check(facts: &ParcelFacts, ways: &[WayKind], expected: &[(&str, &[(usize, f64)])]) {
    let expected: Vec<_> = expected.iter().map(|(who, met)| ((*who).to_owned(), met.to_vec())).collect();
    let expected: Vec<_> = ways.iter().map(|&way| (way, expected.clone())).collect();
    assert_eq!(asked(facts), expected);
}

const BOTH: [WayKind; 2] = [WayKind::MutualAgreement, WayKind::Petition];
const LOCATE: &str = "the utility and the locate service, before any digging";

#[test]
fn a_way_along_the_path_asks_about_what_it_meets() {
    let facts = parcel(vec![over_neighbour(1, 20.0, vec![met(0, "utility", 6.0)])]);
    check(&facts, &BOTH, &[(LOCATE, &[(0, 6.0)])]);
    check(&parcel(vec![over_neighbour(1, 20.0, vec![])]), &BOTH, &[]);
}

#[test]
fn the_same_body_is_asked_once_about_all() {
    let constraints = vec![met(3, "utility", 6.0), met(1, "fish_habitat", 80.0), met(0, "utility", 5.0)];
    let facts = parcel(vec![over_neighbour(1, 20.0, constraints)]);
    let fisheries = "the fisheries department, before any works in or beside the water";
    check(&facts, &BOTH, &[(LOCATE, &[(3, 6.0), (0, 5.0)]), (fisheries, &[(1, 80.0)])]);
}

#[test]
fn a_kind_that_the_profile_does_not_list_is_asked_of_the_records() {
    let facts = parcel(vec![over_neighbour(1, 20.0, vec![met(0, "burial_ground", 12.0)])]);
    check(&facts, &BOTH, &[("the municipal clerk", &[(0, 12.0)])]);
}

#[test]
fn of_several_shares_the_longest_stretch_counts() {
    let shares = vec![
        over_neighbour(1, 12.0, vec![met(0, "utility", 6.0)]),
        over_neighbour(2, 8.0, vec![met(0, "utility", 40.0), met(1, "utility", 9.0)]),
    ];
    check(&parcel(shares), &BOTH, &[(LOCATE, &[(0, 40.0), (1, 9.0)])]);
}

/// Water led to own frontage leaves the path, and the use of a road ditch asks for no works.
#[test]
fn a_way_off_the_path_asks_nothing() {
    let with_ways = |ways: [WayKind; 7]| ways.into_iter().filter(|&way| !runs_along_path(way)).collect::<Vec<_>>();
    assert_eq!(with_ways(WayKind::ALL), [WayKind::LeadToOwnFrontage, WayKind::RoadAuthorityPermission]);
    let constraints = vec![met(0, "utility", 6.0)];
    let ditch = ShareFacts { constraints, ..meets(share(1, 20.0), "D-07", "municipal_drain", &["101"]) };
    let mut facts = parcel(vec![crate::example::runs_in(ditch, "RD-2", "road_ditch")]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    let permission = asked(&facts).into_iter().find(|(way, _)| *way == WayKind::RoadAuthorityPermission);
    assert_eq!(permission, Some((WayKind::RoadAuthorityPermission, vec![])));
}
