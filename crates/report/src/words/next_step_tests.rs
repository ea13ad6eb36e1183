use fallwright_law::NamedOutlet;
use fallwright_units::RoadId;

use super::*;
use crate::words::example::{elm_drain, parcels};

/// Lands are named by their ids.
fn words(next: &NextStep) -> String {
    let [drains, records, titles, waters] = ["DRAINS", "RECORDS", "TITLES", "WATERS"].map(str::to_owned);
    let ask = Ask { drains, records, titles, waters };
    let id = |(land, part): &AskedLand| {
        let id = match land {
            Land::Parcel(id) => id.to_string(),
            Land::Road(id) => format!("road {id}"),
            Land::Unowned => unreachable!("nobody is asked"),
        };
        part.map_or_else(|| id.clone(), |part| format!("{id} ({})", hectares(part)))
    };
    let whom = |lands: &[AskedLand]| match lands {
        [] => "the owners on the way".to_owned(),
        _ => lands.iter().map(id).collect::<Vec<_>>().join(" & "),
    };
    next_step_sentence(next, Wording { parcel: &ParcelId::new("100"), ask: &ask, whom: &whom })
}

/// Five hectares to Elm Drain, over nobody's land.
fn step(action: Action) -> Step {
    Step {
        hectares: Hectares::from_hectares(5.0).unwrap(),
        pipe: None,
        leaving_watershed: Hectares::ZERO,
        outlet: Some(elm_drain()),
        is_natural: false,
        lands: Vec::new(),
        parties: Vec::new(),
        runs_over: Vec::new(),
        over_suspected_culvert: Hectares::ZERO,
        action,
    }
}

/// The same over parcel 101 and a road.
fn across(action: Action) -> Step {
    let lands = [Land::Parcel(ParcelId::new("101")), Land::Road(RoadId::new("R-4"))];
    let hectares = Hectares::from_hectares(5.0).unwrap();
    Step { lands: lands.map(|land| LandToAsk { land, hectares }).into(), ..step(action) }
}

fn alone(step: Step) -> NextStep {
    NextStep { first: step, then: Vec::new(), unused: Vec::new() }
}

#[track_caller]
fn check(step: Step, expected: &str) {
    assert_eq!(words(&alone(step)), expected);
}

#[test]
fn data_to_complete() {
    let data = |step, expected| check(across(Action::CompleteData(step)), expected);
    data(DataStep::CoverParcel, "Supply elevation data that covers parcel 100; it lies outside what is supplied.");
    data(
        DataStep::ExtendDownstream,
        "Supply elevation data farther downstream of parcel 100: the water of 5.00 ha leaves the data before it meets a lawful outlet.",
    );
    data(
        DataStep::GetSchedule,
        "Ask RECORDS for the current by-law and schedule of Elm Drain (D-07), and bring a map of the 5.00 ha of parcel 100 that go to it, to see whether they are assessed; for water led there, agree in writing with 101 & road R-4.",
    );
    data(
        DataStep::AskWhetherOutlet,
        "Ask RECORDS whether the assessment of parcel 100 into Elm Drain (D-07), which names benefit alone, carries outlet too, and bring the schedule and a map of the 5.00 ha that go there; for water led there, agree in writing with 101 & road R-4.",
    );
}

#[test]
fn a_right_to_keep() {
    let keep = |step, expected| check(across(Action::KeepRight(step)), expected);
    keep(
        RightStep::ConfirmOutlet,
        "Nothing has to be acquired for 5.00 ha: before any work, confirm the outlet to Elm Drain (D-07) with DRAINS, and bring a plan of the work.",
    );
    keep(
        RightStep::LeadToOwnFrontage,
        "Before any work have levels surveyed: what is collected on 5.00 ha is to be led over your own land to your own frontage on Elm Drain (D-07), not across 101 & road R-4 as it runs now; ask DRAINS which permits that needs.",
    );
    keep(
        RightStep::AgreeOnWay,
        "Agree in writing with 101 & road R-4 before water collected on 5.00 ha is led across to Elm Drain (D-07), and bring a plan and levels; what runs there by itself needs no agreement.",
    );
    keep(
        RightStep::GetSchedule,
        "Ask RECORDS for the current by-law and schedule of Elm Drain (D-07), and check that it assesses the 5.00 ha of parcel 100 that go there; until then the right is presumed.",
    );
    keep(
        RightStep::AskRoadAuthority { can_be_led: true },
        "Before water collected on 5.00 ha of parcel 100 is led by a road ditch to Elm Drain (D-07), ask 101 & road R-4 in writing and bring a plan and levels, or lead it over your own land to your own frontage.",
    );
}

/// Works in natural water are not the drainage superintendent's.
#[test]
fn a_creek_is_asked_about_where_creeks_are_known() {
    let creek = |right| Step { is_natural: true, ..across(Action::KeepRight(right)) };
    check(
        creek(RightStep::ConfirmOutlet),
        "Nothing has to be acquired for 5.00 ha, which drain to Elm Drain (D-07): before any work there ask WATERS which permits it needs, and bring a plan of the work.",
    );
    assert!(words(&alone(creek(RightStep::LeadToOwnFrontage))).ends_with("ask WATERS which permits that needs."));
}

#[test]
fn an_outlet_to_acquire() {
    let get = |step, expected| check(across(Action::Acquire(step)), expected);
    get(
        AcquireStep::AssessMore,
        "Ask DRAINS how 5.00 ha more of parcel 100 can be assessed into Elm Drain (D-07), and bring the schedule and the watershed map; that much drains there beyond what is assessed; for water led there, agree in writing with 101 & road R-4.",
    );
    get(
        AcquireStep::Connect,
        "Ask DRAINS whether 5.00 ha of parcel 100 can be connected to Elm Drain (D-07), whose schedule does not list it, or the schedule varied, and bring the watershed map; for water led there, agree in writing with 101 & road R-4.",
    );
    get(
        AcquireStep::AgreeOnDrain,
        "Agree in writing with 101 & road R-4 on a drain for 5.00 ha from parcel 100 to Elm Drain (D-07), and bring a plan of the way, or ask DRAINS about other ways; a road authority's permission alone is no right and can be withdrawn.",
    );
    let past = Some(NamedOutlet { feature: "OL".to_owned(), name: None });
    get(
        AcquireStep::LeadToOwnFrontage { past },
        "Have levels surveyed: the water of 5.00 ha may be led over your own land to your own frontage on Elm Drain (D-07), past OL, which takes it now; ask DRAINS which permits that needs.",
    );
}

#[test]
fn the_parties_of_an_agreement_are_named() {
    let parties = parcels(&["103", "104"]);
    let join = Step { parties: parties.clone(), ..across(Action::Acquire(AcquireStep::JoinAgreement)) };
    check(
        join,
        "Ask the parties of Elm Drain (D-07) to take 5.00 ha of parcel 100 into their agreement: 103 & 104; for water led there, agree in writing with 101 & road R-4.",
    );
    let confirm = Step { parties, ..step(Action::KeepRight(RightStep::ConfirmWithParties)) };
    assert!(
        words(&alone(confirm)).contains("confirm the outlet to Elm Drain (D-07) with its other parties, 103 & 104,")
    );
}

#[test]
fn small_parts_are_named_after_the_first_step() {
    let small = |ha, step: Step| Step { hectares: Hectares::from_hectares(ha).unwrap(), ..step };
    let then = vec![
        small(1.4, across(Action::Acquire(AcquireStep::Connect))),
        small(0.4, across(Action::Acquire(AcquireStep::AgreeOnDrain))),
        small(0.3, step(Action::CompleteData(DataStep::ExtendDownstream))),
    ];
    let sentence = words(&NextStep { then, ..alone(step(Action::KeepRight(RightStep::ConfirmOutlet))) });
    let expected = " Also open: 1.40 ha to Elm Drain (D-07), whose schedule does not list the parcel (over land of 101 & road R-4); 0.40 ha to Elm Drain (D-07) without a right shown; 0.30 ha whose water leaves the data.";
    assert!(sentence.ends_with(expected), "{sentence}");
}

/// The land that a pipe drains is land of the parcel whose surface water is named too.
#[test]
fn a_pipe_has_a_sentence_of_its_own() {
    let piped = Step {
        pipe: Some("T-1".to_owned()),
        leaving_watershed: Hectares::from_hectares(2.0).unwrap(),
        ..across(Action::KeepRight(RightStep::AgreeOnWay))
    };
    let next = NextStep { then: vec![piped], ..alone(step(Action::Acquire(AcquireStep::AskHowToDrain))) };
    assert_eq!(
        words(&next),
        "Ask DRAINS how 5.00 ha of parcel 100 may lawfully drain to Elm Drain (D-07), and bring a plan of the way. Agree in writing with 101 & road R-4 before water collected on 5.00 ha that pipe T-1 drains is led across to Elm Drain (D-07), and bring a plan and levels; what runs there by itself needs no agreement. 2.00 ha would drain elsewhere over the ground, and needs a right to be taken there."
    );
}

/// Road R-4 lies on the way of all hectares, parcel 101 of half a hectare.
#[test]
fn land_on_the_way_of_a_part_has_its_hectares() {
    let mut step = across(Action::KeepRight(RightStep::LeadToOwnFrontage));
    step.lands[0].hectares = Hectares::from_hectares(0.5).unwrap();
    let found = words(&alone(step.clone()));
    assert!(found.contains("not across 101 (0.50 ha) & road R-4 as it runs now"), "{found}");
    let found = words(&NextStep { then: vec![step.clone()], ..alone(step) });
    assert!(found.ends_with("where it is collected, not across 101 (0.50 ha) & road R-4."), "{found}");
}

#[test]
fn land_of_no_party_under_an_agreement_drain_is_named() {
    let parties = parcels(&["201", "202"]);
    let runs_over = parcels(&["301"]);
    let join = Step { parties, runs_over, ..step(Action::Acquire(AcquireStep::JoinAgreement)) };
    check(
        join,
        "Ask the parties of Elm Drain (D-07) to take 5.00 ha of parcel 100 into their agreement: 201 & 202; Elm Drain (D-07) also runs over land of 301, no party to it: ask whether there is an agreement for that too.",
    );
}

#[test]
fn an_unused_assessment_and_a_suspected_culvert_come_first() {
    let over_suspected_culvert = Hectares::from_hectares(3.5).unwrap();
    let first = Step { over_suspected_culvert, ..step(Action::Acquire(AcquireStep::Connect)) };
    let (assessed, draining) = (Hectares::from_hectares(6.0).unwrap(), Hectares::from_hectares(1.86).unwrap());
    let unused = vec![UnusedAssessment { drain: elm_drain(), assessed, draining }];
    let expected = "The schedule of Elm Drain (D-07) assesses 6.00 ha of the parcel, and 1.86 ha drain there: have levels surveyed and ask DRAINS whether more may be led to it. First look for the culvert that is only suspected on the way of 3.50 ha, among the places to check: the finding rests on it. Ask DRAINS";
    let found = words(&NextStep { unused, ..alone(first) });
    assert!(found.starts_with(expected), "{found}");
}

#[test]
fn a_small_part_that_may_be_led_past_an_outlet_names_both() {
    let past = Some(NamedOutlet { feature: "OL".to_owned(), name: None });
    let then = vec![step(Action::Acquire(AcquireStep::LeadToOwnFrontage { past }))];
    let found = words(&NextStep { then, ..alone(step(Action::KeepRight(RightStep::ConfirmOutlet))) });
    let expected =
        "Also open: 5.00 ha to OL without a right shown, which may be led past it to own frontage on Elm Drain (D-07).";
    assert!(found.ends_with(expected), "{found}");
}

/// Every variant with and without an outlet gives whole sentences.
#[test]
fn every_step_is_a_complete_sentence() {
    let data = [
        DataStep::CoverParcel,
        DataStep::FillGaps { missing: Hectares::ZERO },
        DataStep::RefineElevation,
        DataStep::ExtendDownstream,
        DataStep::FillGapDownstream,
        DataStep::LookAtFilledGround,
        DataStep::LookAtChannel,
        DataStep::GetSchedule,
        DataStep::AskWhetherOutlet,
    ];
    let rights = [
        RightStep::ConfirmOutlet,
        RightStep::ConfirmWithParties,
        RightStep::AskRoadAuthority { can_be_led: false },
        RightStep::LeadToOwnFrontage,
        RightStep::AgreeOnWay,
        RightStep::CheckWayAcross,
        RightStep::LeaveNaturalCourse,
        RightStep::GetSchedule,
        RightStep::CheckRegistration,
        RightStep::Register,
        RightStep::SurveyFrontage,
        RightStep::AskWhereDrainEnds,
        RightStep::SurveyLevels,
    ];
    let acquired = [
        AcquireStep::AskHowToReach,
        AcquireStep::AgreeOnWayToDrain,
        AcquireStep::AssessMore,
        AcquireStep::LeadToOwnFrontage { past: None },
        AcquireStep::Connect,
        AcquireStep::MeasureDistance,
        AcquireStep::GetPermissions,
        AcquireStep::FindApproval,
        AcquireStep::RenewAgreement,
        AcquireStep::AskWhetherNamed,
        AcquireStep::KeepRoadPermission,
        AcquireStep::DrainDepression,
        AcquireStep::JoinAgreement,
        AcquireStep::AskHowToDrain,
        AcquireStep::AgreeOnDrain,
    ];
    let actions = data.map(Action::CompleteData).into_iter().chain(rights.map(Action::KeepRight));
    for action in actions.chain(acquired.map(Action::Acquire)) {
        for outlet in [None, Some(elm_drain())] {
            let step = Step { outlet, ..step(action.clone()) };
            let words = words(&NextStep { then: vec![step.clone()], ..alone(step) });
            assert!(words.contains(". Also open: ") && words.ends_with('.') && !words.contains("  "), "{words}");
        }
    }
}
