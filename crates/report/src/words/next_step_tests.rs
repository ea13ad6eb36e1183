use super::*;
use crate::words::example::{elm_drain, parcels};

fn ask() -> Ask {
    Ask { drains: "DRAINS".to_owned(), records: "RECORDS".to_owned(), titles: "TITLES".to_owned() }
}

/// Five hectares to Elm Drain.
fn step(action: Action) -> Step {
    Step { hectares: Hectares::from_hectares(5.0).unwrap(), pipe: None, outlet: Some(elm_drain()), action }
}

fn check(action: Action, expected: &str) {
    let next = NextStep { first: step(action), then: Vec::new() };
    assert_eq!(next_step_sentence(&next, &ParcelId::new("100"), &ask()), expected);
}

#[test]
fn data_to_complete() {
    let check = |step, expected| check(Action::CompleteData(step), expected);
    check(DataStep::CoverParcel, "Supply elevation data that covers parcel 100; it lies outside what is supplied.");
    check(
        DataStep::ExtendDownstream,
        "Supply elevation data farther downstream of parcel 100: the water of 5.00 ha leaves the data before it meets a lawful outlet.",
    );
    check(
        DataStep::GetSchedule,
        "Ask RECORDS for the current by-law and schedule of Elm Drain (D-07), and bring a map of the 5.00 ha of parcel 100 that drain to it: whether they are assessed decides.",
    );
    check(
        DataStep::AskWhetherOutlet,
        "Ask RECORDS whether the assessment of parcel 100 into Elm Drain (D-07), which names benefit alone, carries outlet too; bring the schedule and a map of the 5.00 ha that drain there.",
    );
}

#[test]
fn a_right_to_keep() {
    let check = |step, expected| check(Action::KeepRight(step), expected);
    let crossed = || parcels(&["101", "102"]);
    check(
        RightStep::ConfirmOutlet,
        "Nothing has to be acquired for 5.00 ha: before any work, confirm the outlet to Elm Drain (D-07) with DRAINS, and bring a plan of the work.",
    );
    check(
        RightStep::LeadToOwnFrontage { crossed: crossed() },
        "Before any work bring surveyed levels to DRAINS; if they allow, lead what is collected on 5.00 ha over your own land to your own frontage on Elm Drain (D-07), not across parcels 101 and 102 as the ground does.",
    );
    check(
        RightStep::AgreeOnWay { crossed: crossed() },
        "Agree in writing with the owners of parcels 101 and 102 before water collected on 5.00 ha is led across to Elm Drain (D-07), and bring a plan and levels; what runs there by itself needs no agreement.",
    );
    check(
        RightStep::GetSchedule,
        "Ask RECORDS for the current by-law and schedule of Elm Drain (D-07), and check that it assesses the 5.00 ha of parcel 100 that drain there; until then the right is presumed.",
    );
}

#[test]
fn an_outlet_to_acquire() {
    let check = |step, expected| check(Action::Acquire(step), expected);
    check(
        AcquireStep::AssessMore,
        "Ask DRAINS to assess 5.00 ha more of parcel 100 into Elm Drain (D-07), and bring the schedule and the watershed map; that much drains there beyond what is assessed.",
    );
    check(
        AcquireStep::Connect,
        "Ask DRAINS whether 5.00 ha of parcel 100 can be connected to Elm Drain (D-07), whose schedule does not list it, or the schedule varied, and bring the watershed map.",
    );
    check(
        AcquireStep::AgreeOnDrain { crossed: parcels(&["101"]), otherwise: Otherwise::AskRoadAuthority },
        "Agree in writing with the owners of parcel 101 on a drain for 5.00 ha from parcel 100 to Elm Drain (D-07), and bring a plan of the way; the road authority must agree in writing too, and its ditch alone, by its permission, is no right and can be withdrawn.",
    );
}

#[test]
fn small_parts_are_named_after_the_first_step() {
    let small = |ha, action| Step { hectares: Hectares::from_hectares(ha).unwrap(), ..step(action) };
    let then = vec![
        small(0.4, Action::Acquire(AcquireStep::Connect)),
        small(0.3, Action::CompleteData(DataStep::ExtendDownstream)),
    ];
    let next = NextStep { first: step(Action::KeepRight(RightStep::ConfirmOutlet)), then };
    let sentence = next_step_sentence(&next, &ParcelId::new("100"), &ask());
    let expected = " Also open: 0.40 ha to Elm Drain (D-07), whose schedule does not list the parcel; 0.30 ha whose water leaves the data.";
    assert!(sentence.ends_with(expected), "{sentence}");
}

#[test]
fn piped_water_is_named_by_its_pipe() {
    let piped = |action| Step { pipe: Some("T-1".to_owned()), ..step(action) };
    let agree = RightStep::AgreeOnWay { crossed: parcels(&["101"]) };
    let next = NextStep {
        first: piped(Action::KeepRight(agree)),
        then: vec![piped(Action::Acquire(AcquireStep::Connect)), step(Action::Acquire(AcquireStep::Connect))],
    };
    assert_eq!(
        next_step_sentence(&next, &ParcelId::new("100"), &ask()),
        "Agree in writing with the owners of parcel 101 before water collected on 5.00 ha (drained by pipe T-1) is led across to Elm Drain (D-07), and bring a plan and levels; what runs there by itself needs no agreement. Also open: 5.00 ha (drained by pipe T-1) to Elm Drain (D-07), whose schedule does not list the parcel; 5.00 ha to Elm Drain (D-07), whose schedule does not list the parcel."
    );
}

/// Every variant with and without an outlet gives whole sentences.
#[test]
fn every_step_is_a_complete_sentence() {
    let crossed = || parcels(&["101"]);
    let otherwise = Otherwise::AskOtherWays;
    let data = [
        DataStep::CoverParcel,
        DataStep::FillGaps { missing: Hectares::ZERO },
        DataStep::RefineElevation,
        DataStep::ExtendDownstream,
        DataStep::FillGapDownstream,
        DataStep::LookAtChannel,
        DataStep::GetSchedule,
        DataStep::AskWhetherOutlet,
    ];
    let rights = [
        RightStep::ConfirmOutlet,
        RightStep::ConfirmWithParties,
        RightStep::AskRoadAuthority,
        RightStep::LeadToOwnFrontage { crossed: crossed() },
        RightStep::AgreeOnWay { crossed: crossed() },
        RightStep::CheckWayAcross { crossed: crossed() },
        RightStep::LeaveNaturalCourse { crossed: crossed() },
        RightStep::GetSchedule,
        RightStep::CheckRegistration,
        RightStep::SurveyFrontage,
        RightStep::AskWhereDrainEnds,
        RightStep::SurveyLevels,
    ];
    let acquired = [
        AcquireStep::AskHowToReach,
        AcquireStep::AgreeOnWayToDrain { crossed: crossed() },
        AcquireStep::AssessMore,
        AcquireStep::Connect,
        AcquireStep::MeasureDistance,
        AcquireStep::GetPermissions { crossed: crossed() },
        AcquireStep::FindApproval,
        AcquireStep::RenewAgreement,
        AcquireStep::AskWhetherNamed,
        AcquireStep::KeepRoadPermission,
        AcquireStep::DrainDepression,
        AcquireStep::JoinAgreement { otherwise },
        AcquireStep::AskHowToDrain,
        AcquireStep::AgreeOnDrain { crossed: crossed(), otherwise },
    ];
    let actions = data.map(Action::CompleteData).into_iter().chain(rights.map(Action::KeepRight));
    for action in actions.chain(acquired.map(Action::Acquire)) {
        for outlet in [None, Some(elm_drain())] {
            let step = Step { outlet, ..step(action.clone()) };
            let next = NextStep { first: step.clone(), then: vec![step] };
            let words = next_step_sentence(&next, &ParcelId::new("100"), &ask());
            assert!(words.contains(". Also open: ") && words.ends_with('.') && !words.contains("  "), "{words}");
        }
    }
}
