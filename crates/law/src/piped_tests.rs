use fallwright_units::ParcelId;

use super::*;
use crate::example::{
    assessed, assessment, at, class_of, hectares, meets, member, metres, on, ontario, parcel, parcels, runs_in, share,
};
use crate::{
    AcquireStep, Action, Assessed, Confidence, Consenting, DataStep, Finding, Land, NextStep, PathEnd, RightStep,
    ShareFacts, ShareStanding, Step, Water, Way, WayKind, judge,
};

const CREEK: &str = "natural_watercourse";
const DRAIN: &str = "municipal_drain";
const AGREEMENT: &str = "mutual_agreement_drain";

use Reason::{
    CollectedWaterOnNeighbour, DrainNotTouching, ExceedsAssessedHectares, ExceedsWithinAccuracy, NoFrontage,
    NotInSchedule, PipedOutOfWatershed, PipedUnderNeighbour, PipedWaterIsLed, PipedWaterWithoutRight,
};
use ShareStanding::{Acquire, Right as HasRight, Undecided};

fn judged(facts: &ParcelFacts) -> Finding {
    judge(facts, &ontario())
}

/// A pipe T-1 that takes the water of 4 ha along some path, none of it out of its watershed.
fn pipe(water: ShareFacts) -> PipedFacts {
    let part = PipedPart { hectares: hectares(4.0), share: Some(1), leaves_watershed: false };
    let water = ShareFacts { hectares: hectares(4.0), ..water };
    PipedFacts { pipe: "T-1".to_owned(), water, under: vec![], open_on: None, parts: vec![part] }
}

/// The same under some parcels.
fn under(piped: PipedFacts, crossed: &[&str]) -> PipedFacts {
    PipedFacts { under: parcels(crossed), ..piped }
}

/// The same, of which the water runs open on a parcel before its outlet.
fn open_on(piped: PipedFacts, crossed: &str) -> PipedFacts {
    PipedFacts { open_on: Some(Land::Parcel(ParcelId::new(crossed))), ..piped }
}

/// The same, so many hectares of which leave their watershed.
fn leaving(piped: PipedFacts, ha: f64) -> PipedFacts {
    let part = |ha, leaves_watershed| PipedPart { hectares: hectares(ha), share: Some(1), leaves_watershed };
    let parts = [part(4.0 - ha, false), part(ha, true)].into_iter().filter(|part| part.hectares > Hectares::ZERO);
    PipedFacts { parts: parts.collect(), ..piped }
}

/// Twenty hectares that drain over the surface into the creek, on which the parcel has frontage.
fn on_creek(piped: Vec<PipedFacts>) -> ParcelFacts {
    let mut facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &[])]);
    facts.frontage = vec![at(0.0, "MC", CREEK)];
    ParcelFacts { piped, ..facts }
}

/// Twenty hectares that drain over the surface into the drain, which touches the parcel.
fn on_drain(says: Assessed, piped: Vec<PipedFacts>) -> ParcelFacts {
    let mut facts = parcel(vec![meets(share(1, 20.0), "D-07", DRAIN, &[])]);
    facts.frontage = vec![at(0.0, "D-07", DRAIN)];
    facts.assessments = vec![assessment("D-07", says)];
    ParcelFacts { piped, ..facts }
}

fn to(feature: &str, class: &str, crossed: &[&str]) -> PipedFacts {
    under(pipe(meets(share(1, 4.0), feature, class, crossed)), crossed)
}

/// Standing, basis, hectares and reasons of each record.
type Shown<'a> = (ShareStanding, Option<&'a str>, f64, &'a [Reason]);

#[track_caller]
fn check(facts: &ParcelFacts, expected: &[Shown]) {
    check_under("ontario", facts, expected);
}

#[track_caller]
fn check_under(profile: &str, facts: &ParcelFacts, expected: &[Shown]) {
    let finding = judge(facts, &Profile::shipped(profile).unwrap());
    let shown: Vec<Shown> = finding
        .piped
        .iter()
        .map(|piped| (piped.standing, piped.basis.as_deref(), piped.hectares.hectares(), piped.reasons.as_slice()))
        .collect();
    assert_eq!(shown, expected);
}

#[test]
fn a_main_to_own_frontage_has_a_right() {
    let facts = on_creek(vec![to("MC", CREEK, &[])]);
    check(&facts, &[(HasRight, Some(CREEK), 4.0, &[])]);
    let found = judged(&facts);
    assert_eq!((found.reasons.as_slice(), found.ways.as_slice()), (&[][..], &[][..]));
    assert_eq!(found.piped[0].basis_feature.as_deref(), Some("MC"));
}

#[test]
fn a_main_under_a_neighbour_needs_his_agreement() {
    let facts = on_creek(vec![to("MC", CREEK, &["101"])]);
    check(&facts, &[(HasRight, Some(CREEK), 4.0, &[PipedUnderNeighbour])]);
    let without = ParcelFacts { frontage: vec![], ..on_creek(vec![to("MC", CREEK, &["101"])]) };
    check(&without, &[(Acquire, None, 4.0, &[NoFrontage, PipedUnderNeighbour])]);
}

#[test]
fn a_main_that_ends_on_a_neighbour_casts_collected_water_on_him() {
    let facts = on_creek(vec![open_on(to("MC", CREEK, &["101"]), "101")]);
    check(&facts, &[(Acquire, None, 4.0, &[PipedUnderNeighbour, CollectedWaterOnNeighbour])]);
    let beside = on_creek(vec![open_on(pipe(meets(share(1, 4.0), "MC", CREEK, &["101"])), "101")]);
    check(&beside, &[(Acquire, None, 4.0, &[CollectedWaterOnNeighbour])]);
    assert!(judged(&facts).reasons.contains(&PipedWaterWithoutRight));
}

#[test]
fn piped_water_is_never_excused_by_natural_flow() {
    let facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &["101"])]);
    let facts = ParcelFacts { piped: vec![to("MC", CREEK, &["101"])], ..facts };
    let reasons = [PipedUnderNeighbour, PipedWaterIsLed, Reason::RuleNotConfirmed];
    check_under("iowa", &facts, &[(Acquire, None, 4.0, &reasons)]);
    check(&facts, &[(Acquire, None, 4.0, &[NoFrontage, PipedUnderNeighbour])]);
    let surface = judge(&facts, &Profile::shipped("iowa").unwrap());
    assert_eq!(surface.right, hectares(20.0));
    assert!(!class_of("iowa", CREEK).confirmed);
}

#[test]
fn under_natural_flow_a_main_to_the_own_bank_has_a_right() {
    let facts = on_creek(vec![to("MC", CREEK, &[])]);
    check_under("iowa", &facts, &[(HasRight, Some(CREEK), 4.0, &[Reason::RuleNotConfirmed])]);
    let cast = on_creek(vec![open_on(to("MC", CREEK, &[]), "R-1")]);
    let reasons = [CollectedWaterOnNeighbour, Reason::RuleNotConfirmed];
    check_under("iowa", &cast, &[(Acquire, None, 4.0, &reasons)]);
}

#[test]
fn water_out_of_its_watershed_has_no_right_by_frontage() {
    let mut facts = on_creek(vec![leaving(to("CC", CREEK, &[]), 1.5)]);
    facts.frontage.push(at(0.0, "CC", CREEK));
    let expected: [Shown; 2] = [(HasRight, Some(CREEK), 2.5, &[]), (Acquire, None, 1.5, &[PipedOutOfWatershed])];
    check(&facts, &expected);
    let found = judged(&facts);
    assert_eq!(found.piped.iter().map(|piped| piped.leaving_watershed.hectares()).collect::<Vec<_>>(), [0.0, 1.5]);
    assert_eq!(found.reasons, [PipedOutOfWatershed, PipedWaterWithoutRight]);
}

#[test]
fn what_leaves_its_watershed_has_a_record_of_its_own_only_where_it_is_found_otherwise() {
    let found = judged(&on_drain(assessed(24.0), vec![leaving(to("D-07", DRAIN, &[]), 1.5)]));
    let [piped] = &found.piped[..] else { panic!("{:?}", found.piped) };
    assert_eq!((piped.hectares, piped.leaving_watershed), (hectares(4.0), hectares(1.5)));
    assert_eq!(piped.reasons, [PipedOutOfWatershed]);
}

/// The surface water meets the drain first and the creek below it, to which the pipe goes at once.
#[test]
fn land_whose_surface_water_comes_to_the_creek_later_lies_in_its_watershed() {
    let surface = meets(meets(share(1, 20.0), "D-07", DRAIN, &[]), "MC", CREEK, &[]);
    let mut facts = parcel(vec![surface]);
    facts.frontage = vec![at(0.0, "MC", CREEK)];
    facts.piped = vec![leaving(to("MC", CREEK, &[]), 4.0)];
    check(&facts, &[(HasRight, Some(CREEK), 4.0, &[PipedOutOfWatershed])]);
}

#[test]
fn the_first_drain_entered_decides() {
    let below = |says| on_drain(says, vec![pipe(meets(meets(share(1, 4.0), "D-07", DRAIN, &[]), "MC", CREEK, &[]))]);
    let with_frontage = |says| {
        let mut facts = below(says);
        facts.frontage.push(at(0.0, "MC", CREEK));
        facts
    };
    check(&with_frontage(assessed(20.0)), &[(HasRight, Some(DRAIN), 4.0, &[])]);
    let reasons = [NotInSchedule, Reason::RightBeyondDrain];
    check(&with_frontage(Assessed::NotListed), &[(Acquire, None, 4.0, &reasons)]);
    let benefit = [Reason::AssessedForBenefitOnly, Reason::RightBeyondDrain];
    check(&with_frontage(Assessed::BenefitOnly), &[(Undecided, None, 4.0, &benefit)]);
    check(
        &on_drain(Assessed::NotSupplied, vec![to("D-07", DRAIN, &[])]),
        &[(HasRight, Some(DRAIN), 4.0, &[Reason::ScheduleNotSupplied])],
    );
}

#[test]
fn a_drain_that_does_not_touch_the_parcel() {
    let facts = |says| {
        let mut facts = on_creek(vec![leaving(to("D-07", DRAIN, &["101"]), 4.0)]);
        facts.assessments = vec![assessment("D-07", says)];
        facts
    };
    let not_listed = [NotInSchedule, PipedUnderNeighbour, PipedOutOfWatershed, DrainNotTouching];
    let found = |reasons: &[Reason]| {
        let mut sorted = reasons.to_vec();
        sorted.sort_unstable();
        sorted
    };
    check(&facts(Assessed::NotListed), &[(Acquire, None, 4.0, &found(&not_listed))]);
    let assessed_there = [PipedUnderNeighbour, PipedOutOfWatershed, Reason::AssessedButNotTouching];
    check(&facts(assessed(10.0)), &[(Acquire, None, 4.0, &found(&assessed_there))]);
}

/// The surface water of 20 ha takes what is assessed; of the pipe's 4 ha so many go to the drain that would not over the ground.
#[track_caller]
fn check_assessed(ha: f64, leaves: f64, expected: &[Shown]) {
    check(&on_drain(assessed(ha), vec![leaving(to("D-07", DRAIN, &[]), leaves)]), expected);
}

/// The accuracy of watershed areas is 1.4 ha (Thorpe-Ellis Drain decision, as summarised in 2010).
#[test]
fn hectares_that_drain_there_anyway_are_not_counted_twice() {
    check_assessed(20.0, 0.0, &[(HasRight, Some(DRAIN), 4.0, &[])]);
    check_assessed(3.8, 0.0, &[(HasRight, Some(DRAIN), 4.0, &[ExceedsWithinAccuracy])]);
    check_assessed(2.0, 0.0, &[(HasRight, Some(DRAIN), 2.0, &[]), (Acquire, None, 2.0, &[ExceedsAssessedHectares])]);
}

#[test]
fn hectares_from_another_watershed_come_after_the_surface_water() {
    check_assessed(24.0, 4.0, &[(HasRight, Some(DRAIN), 4.0, &[PipedOutOfWatershed])]);
    check_assessed(
        22.0,
        4.0,
        &[
            (HasRight, Some(DRAIN), 2.0, &[PipedOutOfWatershed]),
            (Acquire, None, 2.0, &[ExceedsAssessedHectares, PipedOutOfWatershed]),
        ],
    );
    check_assessed(23.0, 4.0, &[(HasRight, Some(DRAIN), 4.0, &[ExceedsWithinAccuracy, PipedOutOfWatershed])]);
    check_assessed(12.0, 4.0, &[(Acquire, None, 4.0, &[ExceedsAssessedHectares, PipedOutOfWatershed])]);
}

#[test]
fn piped_water_takes_nothing_from_the_surface_water() {
    for says in [assessed(20.0), assessed(19.0), assessed(12.0), Assessed::NotListed, Assessed::NotSupplied] {
        let bare = judged(&on_drain(says, vec![]));
        let piped = judged(&on_drain(says, vec![leaving(to("D-07", DRAIN, &["101"]), 3.0)]));
        assert_eq!((bare.standing, bare.right, bare.acquire), (piped.standing, piped.right, piped.acquire));
        assert_eq!((bare.shares, bare.confidence, bare.excesses), (piped.shares, piped.confidence, piped.excesses));
    }
}

#[test]
fn an_agreement_serves_its_parties() {
    let facts = |named| {
        let water = meets(meets(share(1, 4.0), "OL", AGREEMENT, &["101"]), "MC", CREEK, &["101"]);
        let facts = on_creek(vec![under(pipe(water), &["101"])]);
        ParcelFacts { members: [member("OL", named, Some(true))].into(), ..facts }
    };
    check(&facts(true), &[(HasRight, Some(AGREEMENT), 4.0, &[PipedUnderNeighbour])]);
    let check_way = Action::KeepRight(RightStep::CheckWayAcross);
    assert_eq!(judged(&facts(true)).next_step.first.action, check_way);
    let refused = [Reason::RightBeyondDrain, PipedUnderNeighbour, Reason::NotNamedParty];
    check(&facts(false), &[(Acquire, None, 4.0, &refused)]);
}

#[test]
fn a_path_that_ends_before_any_outlet() {
    let ends = |end| on_creek(vec![pipe(ShareFacts { end, ..share(1, 4.0) })]);
    check(&ends(PathEnd::Edge), &[(Undecided, None, 4.0, &[Reason::PathLeavesData])]);
    check(&ends(PathEnd::Hole), &[(Undecided, None, 4.0, &[Reason::HoleInElevation])]);
    check(&ends(PathEnd::KeptDepression), &[(Acquire, None, 4.0, &[Reason::EndsInKeptDepression])]);
}

#[test]
fn a_road_ditch_on_the_way_is_told() {
    let water = runs_in(meets(share(1, 4.0), "MC", CREEK, &[]), "R-2", "road_ditch");
    let mut facts = on_creek(vec![pipe(water)]);
    facts.frontage.clear();
    check(&facts, &[(Acquire, None, 4.0, &[NoFrontage, Reason::RoadDitchIsNoOutlet])]);
    assert!(judged(&facts).ways.iter().any(|way| way.way == WayKind::RoadAuthorityPermission));
}

#[test]
fn filled_ground_below_the_main_lowers_its_confidence_alone() {
    let water = ShareFacts { deepest_fill: metres(2.0), ..meets(share(1, 4.0), "MC", CREEK, &[]) };
    let found = judged(&on_creek(vec![pipe(water)]));
    assert_eq!((found.piped[0].confidence, found.confidence), (Confidence::Medium, Confidence::High));
}

#[test]
fn a_parcel_undecided_as_a_whole_leaves_its_pipes_undecided() {
    let facts = ParcelFacts { entirely_outside: true, ..on_creek(vec![to("MC", CREEK, &["101"])]) };
    check(&facts, &[(Undecided, None, 4.0, &[Reason::OutsideElevationData])]);
    assert_eq!(judged(&facts).ways, []);
}

#[test]
fn each_pipe_has_a_finding_of_its_own() {
    let second = PipedFacts { pipe: "T-2".to_owned(), ..to("CC", CREEK, &["101"]) };
    let found = judged(&on_creek(vec![to("MC", CREEK, &[]), second]));
    let shown: Vec<_> = found.piped.iter().map(|piped| (piped.pipe.as_str(), piped.standing)).collect();
    assert_eq!(shown, [("T-1", HasRight), ("T-2", Acquire)]);
    assert_eq!(found.piped[1].lands, [on(Land::Parcel(ParcelId::new("101")))]);
    assert_eq!((found.standing, found.right), (crate::Standing::Right, hectares(20.0)));
}

// Ways

fn of_kind(facts: &ParcelFacts, kind: WayKind) -> Way {
    judged(facts).ways.into_iter().find(|way| way.way == kind).expect("the way is offered")
}

fn asked(way: &Way) -> Vec<(Consenting, Option<f64>)> {
    let asked = way.consents.iter();
    asked.map(|consent| (consent.who.clone(), consent.metres.map(fallwright_units::Metres::metres))).collect()
}

#[test]
fn the_owner_above_a_main_is_asked_even_where_there_is_a_right() {
    let facts = on_creek(vec![to("MC", CREEK, &["101"])]);
    let way = of_kind(&facts, WayKind::MutualAgreement);
    assert_eq!(asked(&way), [(Consenting::Land(Land::Parcel(ParcelId::new("101"))), Some(100.0))]);
    assert_eq!((way.shares.as_slice(), way.pipes.as_slice()), (&[][..], &["T-1".to_owned()][..]));
    assert_eq!((way.cures, way.cures_piped), (Hectares::ZERO, hectares(4.0)));
    assert_eq!(way.serves().collect::<Vec<_>>(), [Water::Piped]);
    let kinds: Vec<WayKind> = judged(&facts).ways.iter().map(|way| way.way).collect();
    assert_eq!(kinds, [WayKind::LeadToOwnFrontage, WayKind::MutualAgreement]);
}

#[test]
fn collected_water_may_be_led_to_own_frontage_instead() {
    let facts = on_creek(vec![open_on(to("MC", CREEK, &["101"]), "101")]);
    assert_eq!(of_kind(&facts, WayKind::LeadToOwnFrontage).pipes, ["T-1"]);
    let elsewhere = on_creek(vec![open_on(to("CC", CREEK, &["101"]), "101")]);
    assert!(judged(&elsewhere).ways.iter().all(|way| way.way != WayKind::LeadToOwnFrontage));
}

#[test]
fn surface_and_pipe_to_one_outlet_have_one_way() {
    let facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &["101"])]);
    let facts = ParcelFacts { piped: vec![to("MC", CREEK, &["102"])], ..facts };
    let way = of_kind(&facts, WayKind::MutualAgreement);
    assert_eq!((way.shares.as_slice(), way.pipes.as_slice()), (&[1][..], &["T-1".to_owned()][..]));
    assert_eq!(way.crossed, parcels(&["101", "102"]));
    assert_eq!((way.cures, way.cures_piped), (hectares(20.0), hectares(4.0)));
    assert_eq!(way.serves().collect::<Vec<_>>(), [Water::Surface, Water::Piped]);
}

#[test]
fn a_pipe_alone_brings_in_no_ways_for_the_surface_water() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &["101"])]);
    facts.frontage = vec![at(0.0, "MC", CREEK)];
    facts.piped = vec![to("CC", CREEK, &["102"])];
    assert!(judged(&facts).ways.iter().all(|way| way.shares.is_empty()));
}

#[test]
fn a_main_into_a_drain_that_does_not_list_the_parcel_may_be_connected() {
    let facts = on_drain(Assessed::NotListed, vec![to("D-07", DRAIN, &[])]);
    let way = of_kind(&facts, WayKind::Connection);
    assert_eq!((way.shares.as_slice(), way.pipes.as_slice()), (&[1][..], &["T-1".to_owned()][..]));
}

// Next step

#[track_caller]
fn check_next(facts: &ParcelFacts, first: (Option<&str>, f64), then: &[(Option<&str>, f64)]) {
    let NextStep { first: found, then: rest, .. } = judged(facts).next_step;
    let shown = |step: &Step| (step.pipe.clone(), step.hectares.hectares());
    let expected = |(pipe, ha): (Option<&str>, f64)| (pipe.map(str::to_owned), ha);
    assert_eq!(shown(&found), expected(first));
    assert_eq!(rest.iter().map(shown).collect::<Vec<_>>(), then.iter().copied().map(expected).collect::<Vec<_>>());
}

#[test]
fn open_piped_water_comes_first_where_it_is_the_largest_open_part() {
    check_next(&on_creek(vec![to("MC", CREEK, &[])]), (None, 20.0), &[]);
    check_next(&on_creek(vec![to("MC", CREEK, &["101"])]), (Some("T-1"), 4.0), &[]);
    check_next(&on_creek(vec![to("CC", CREEK, &["101"])]), (Some("T-1"), 4.0), &[]);
    check_next(&on_drain(Assessed::NotListed, vec![to("D-07", DRAIN, &[])]), (None, 20.0), &[(Some("T-1"), 4.0)]);
    let small = PipedFacts {
        parts: vec![PipedPart { hectares: hectares(1.0), share: Some(1), leaves_watershed: false }],
        ..to("CC", CREEK, &["101"])
    };
    check_next(&on_creek(vec![small]), (None, 20.0), &[(Some("T-1"), 1.0)]);
}

#[test]
fn the_step_says_what_the_pipe_needs() {
    let step = |facts: &ParcelFacts| judged(facts).next_step.first.action;
    let lead = RightStep::LeadToOwnFrontage;
    assert_eq!(step(&on_creek(vec![to("MC", CREEK, &["101"])])), Action::KeepRight(lead));
    let mut level = on_creek(vec![to("MC", CREEK, &["101"])]);
    level.frontage[0].lowest_ground = None;
    assert_eq!(step(&level), Action::KeepRight(RightStep::AgreeOnWay));
    let agree = AcquireStep::AgreeOnDrain;
    assert_eq!(step(&on_creek(vec![to("CC", CREEK, &["101"])])), Action::Acquire(agree));
    let edge = on_creek(vec![pipe(share(1, 4.0))]);
    assert_eq!(step(&edge), Action::CompleteData(DataStep::ExtendDownstream));
}
