//! Facts in, finding out. What is expected follows the rules of the Ontario profile; parcels, creeks, drains and roads
//! are invented.

use std::collections::BTreeSet;

use fallwright_units::{Metres, ParcelId, RoadId, ShareIx};
use proptest::prelude::*;

use super::*;
use crate::example::{
    assessed, assessment, at, hectares, meets, member, metres, on, ontario, parcel, parcels, runs_in, share,
};
use crate::{
    AcquireStep, Action, Assessed, Consenting, DataStep, Evidence, FilledGround, Frontage, Land, LandToAsk,
    MarkedChannel, Membership, NamedOutlet, Observation, PathEnd, RightStep, Rule, Step, UnusedAssessment, Way,
    WayKind, WayStep,
};

const CREEK: &str = "natural_watercourse";
const DRAIN: &str = "municipal_drain";
const AGREEMENT: &str = "mutual_agreement_drain";

fn judged(facts: &ParcelFacts) -> Finding {
    judge(facts, &ontario())
}

/// Standing, basis, confidence and the codes of the reasons.
fn check(facts: &ParcelFacts, standing: Standing, basis: Option<&str>, confidence: Confidence, reasons: &[Reason]) {
    let found = judged(facts);
    let mut expected = reasons.to_vec();
    expected.sort_unstable();
    assert_eq!(found.reasons, expected);
    assert_eq!((found.standing, found.basis.as_deref(), found.confidence), (standing, basis, confidence));
}

fn named(feature: &str) -> NamedOutlet {
    NamedOutlet { feature: feature.to_owned(), name: None }
}

/// The first step.
fn check_step(facts: &ParcelFacts, feature: Option<&str>, ha: f64, action: Action) {
    let Step { hectares: area, pipe, outlet, action: found, .. } = judged(facts).next_step.first;
    assert_eq!((area, pipe, outlet, found), (hectares(ha), None, feature.map(named), action));
}

/// The parcel has 20 ha.
fn check_keeps(facts: &ParcelFacts, feature: &str, step: RightStep) {
    check_step(facts, Some(feature), 20.0, Action::KeepRight(step));
}

fn check_acquires(facts: &ParcelFacts, feature: &str, ha: f64, step: AcquireStep) {
    check_step(facts, Some(feature), ha, Action::Acquire(step));
}

fn mill_road() -> Land {
    Land::Road(RoadId::new("R-1"))
}

fn over_road(mut share: ShareFacts) -> ShareFacts {
    share.lands.push(on(mill_road()));
    share
}

fn ways_of(facts: &ParcelFacts) -> Vec<WayKind> {
    judged(facts).ways.iter().map(|way| way.way).collect()
}

fn on_creek(shares: Vec<ShareFacts>) -> ParcelFacts {
    ParcelFacts { frontage: vec![at(0.0, "MC", CREEK)], ..parcel(shares) }
}

fn on_drain(shares: Vec<ShareFacts>, assessed: Assessed) -> ParcelFacts {
    let (frontage, assessments) = (vec![at(0.0, "D-07", DRAIN)], vec![assessment("D-07", assessed)]);
    ParcelFacts { frontage, assessments, ..parcel(shares) }
}

fn to_drain(number: u32, ha: f64) -> ShareFacts {
    meets(share(number, ha), "D-07", DRAIN, &[])
}

/// 0.3 less 0.1 less 0.2 leaves 3e-17 in floating point.
#[test]
fn what_rounding_leaves_of_assessed_hectares_gives_no_right() {
    let facts = on_drain(vec![to_drain(1, 0.1), to_drain(2, 0.2), to_drain(3, 0.5)], assessed(0.3));
    let found: Vec<_> = judged(&facts).shares.iter().map(|share| (share.share, share.standing)).collect();
    let expected = [(1, ShareStanding::Right), (2, ShareStanding::Right), (3, ShareStanding::Acquire)];
    assert_eq!(found, expected);
}

// Natural watercourse

#[test]
fn frontage_and_the_watershed_give_a_right() {
    let facts = on_creek(vec![meets(share(1, 20.0), "MC", CREEK, &[])]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[]);
    assert_eq!(judged(&facts).ways, []);
}

#[test]
fn water_that_reaches_the_river_far_downstream_still_lies_in_its_watershed() {
    let path = meets(meets(share(1, 20.0), "CC", CREEK, &["101"]), "MC", CREEK, &["101", "102"]);
    let facts = on_creek(vec![path]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[Reason::WaterLeavesOverNeighbour]);
    assert_eq!(judged(&facts).outlet.unwrap().feature, "CC");
}

// The first drain that the water enters decides: Drainage Act, ss. 65 and 76, from memory; ontario.ca, Mutual agreements and
// drainage works, on land assessed into a drain.

/// 20 ha enter D-07, on whose bank the parcel lies, and then a lake on which it has a long frontage.
fn to_drain_and_lake(assessed: Assessed) -> ParcelFacts {
    let mut facts = on_drain(vec![meets(to_drain(1, 20.0), "L-1", "lake", &["101"])], assessed);
    facts.frontage.push(at(0.0, "L-1", "lake"));
    facts
}

#[test]
fn frontage_farther_down_does_not_cure_a_missing_assessment() {
    let facts = to_drain_and_lake(Assessed::NotListed);
    let expected = [Reason::NotInSchedule, Reason::RightBeyondDrain, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    assert_eq!(ways_of(&facts), [WayKind::LeadToOwnFrontage, WayKind::Connection]);
    check_acquires(&facts, "D-07", 20.0, AcquireStep::Connect);
}

#[test]
fn what_exceeds_the_assessment_is_not_cured_farther_down() {
    let facts = to_drain_and_lake(assessed(12.0));
    let found = judged(&facts);
    assert_eq!((found.standing, found.right, found.acquire), (Standing::RightInPart, hectares(12.0), hectares(8.0)));
    assert_eq!(found.bases, [DRAIN]);
}

#[test]
fn without_a_schedule_the_right_at_the_drain_is_presumed() {
    let facts = to_drain_and_lake(Assessed::NotSupplied);
    check(&facts, Standing::Right, Some(DRAIN), Confidence::Medium, &[Reason::ScheduleNotSupplied]);
    assert_eq!(judged(&facts).presumed, hectares(20.0));
}

#[test]
fn a_stranger_to_an_agreement_has_no_right_by_the_creek_below_it() {
    let path = meets(meets(share(1, 20.0), "OL", AGREEMENT, &[]), "MC", CREEK, &["101", "102"]);
    let mut facts = on_creek(vec![path]);
    facts.members = [member("OL", false, None)].into();
    let expected = [Reason::NotNamedParty, Reason::RightBeyondDrain, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    let lead = AcquireStep::LeadToOwnFrontage { past: Some(named("OL")) };
    check_acquires(&facts, "MC", 20.0, lead);
}

/// The schedule of a drain below a creek on which the parcel has no frontage lists it for benefit alone: whether that carries
/// outlet is for the municipality to say, on the drain or not.
#[test]
fn an_assessment_for_benefit_below_a_creek_leaves_land_undecided() {
    let path = meets(meets(share(1, 20.0), "CC", CREEK, &["101"]), "D-07", DRAIN, &["101"]);
    let mut facts = parcel(vec![path]);
    facts.assessments = vec![assessment("D-07", Assessed::BenefitOnly)];
    let found = judged(&facts);
    assert_eq!(found.standing, Standing::Undecided);
    assert!(found.reasons.contains(&Reason::AssessedForBenefitOnly));
}

#[test]
fn a_drain_met_after_a_natural_watercourse_takes_no_right_away() {
    let path = meets(meets(share(1, 20.0), "MC", CREEK, &[]), "D-07", DRAIN, &["101"]);
    let mut facts = on_creek(vec![path]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[Reason::DrainFartherDown]);
}

#[test]
fn an_agreement_drain_into_a_drain_that_does_not_assess_leaves_a_doubt() {
    let path = meets(meets(share(1, 20.0), "OL", AGREEMENT, &[]), "D-07", DRAIN, &["101"]);
    let mut facts = parcel(vec![path]);
    facts.members = [member("OL", true, Some(true))].into();
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    check(&facts, Standing::Right, Some(AGREEMENT), Confidence::Medium, &[Reason::LedOnIntoDrain]);
}

/// MC was improved as D-07: both are met at once.
fn in_one_channel(assessed: Assessed, frontage: bool) -> ParcelFacts {
    let mut path = meets(to_drain(1, 20.0), "MC", CREEK, &[]);
    path.outlets[0].same_channel_as = vec!["MC".to_owned()];
    path.outlets[1].same_channel_as = vec!["D-07".to_owned()];
    let mut facts = on_drain(vec![path], assessed);
    facts.frontage.extend(frontage.then(|| at(0.0, "MC", CREEK)));
    facts
}

#[test]
fn a_creek_improved_as_a_drain_keeps_its_frontage_and_leaves_a_doubt() {
    let expected = [Reason::SameChannel, Reason::SharesChannelWithDrain];
    let facts = in_one_channel(Assessed::NotListed, true);
    check(&facts, Standing::Right, Some(CREEK), Confidence::Medium, &expected);
    check(
        &in_one_channel(assessed(20.0), true),
        Standing::Right,
        Some(CREEK),
        Confidence::High,
        &[Reason::SameChannel],
    );
    let facts = in_one_channel(Assessed::NotListed, false);
    assert_eq!(judged(&facts).standing, Standing::Acquire);
}

#[test]
fn a_ditch_leads_water_which_natural_flow_does_not_cover() {
    let path = runs_in(to_drain(1, 20.0), "P-3", "private_ditch");
    let facts = on_drain(vec![path], Assessed::NotListed);
    check(&facts, Standing::Acquire, None, Confidence::High, &[Reason::NotInSchedule, Reason::ConfersNoRight]);
}

#[test]
fn an_assessment_for_benefit_alone_leaves_the_outlet_open() {
    let facts = on_drain(vec![to_drain(1, 20.0)], Assessed::BenefitOnly);
    let expected = [Reason::AssessedForBenefitOnly, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Undecided, None, Confidence::Medium, &expected);
    check_step(&facts, Some("D-07"), 20.0, Action::CompleteData(DataStep::AskWhetherOutlet));
    assert_eq!(ways_of(&facts), [WayKind::Connection]);
}

#[test]
fn land_off_a_drain_without_a_schedule_is_undecided() {
    let facts = parcel(vec![meets(share(1, 20.0), "D-07", DRAIN, &["101"])]);
    let expected = [Reason::ScheduleNotSupplied, Reason::DrainNotTouching, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Undecided, None, Confidence::Medium, &expected);
    check_step(&facts, Some("D-07"), 20.0, Action::CompleteData(DataStep::GetSchedule));
    let ways = judged(&facts).ways;
    assert_eq!(
        ways.iter().map(|way| (way.way, way.cures)).collect::<Vec<_>>(),
        [(WayKind::Connection, hectares(20.0))]
    );
}

#[test]
fn water_over_a_neighbour_must_be_led_to_own_frontage() {
    let facts = on_creek(vec![meets(share(1, 20.0), "MC", CREEK, &["101"])]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[Reason::WaterLeavesOverNeighbour]);
    assert_eq!(ways_of(&facts), [], "nothing has to be acquired");
    check_keeps(&facts, "MC", RightStep::LeadToOwnFrontage);
}

#[test]
fn leading_water_to_own_frontage_is_a_way_where_another_share_must_acquire() {
    let own = meets(share(1, 20.0), "MC", CREEK, &["101"]);
    let facts = on_creek(vec![own, meets(share(2, 5.0), "CC", CREEK, &["101"])]);
    let ways = judged(&facts).ways;
    let lead = ways.iter().find(|way| way.way == WayKind::LeadToOwnFrontage).unwrap();
    assert_eq!(lead.shares, [1]);
    assert!(ways.iter().filter(|way| way.way == WayKind::MutualAgreement).all(|way| way.shares == [2]));
}

#[test]
fn frontage_with_the_water_going_elsewhere_is_no_basis() {
    let facts = on_creek(vec![meets(share(1, 20.0), "CC", CREEK, &["101"])]);
    let expected = [Reason::NoFrontage, Reason::FrontageWithoutFlow, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    assert!(!ways_of(&facts).contains(&WayKind::LeadToOwnFrontage));
    let evidence = judged(&facts).evidence;
    let unused = Observation::FrontageLengthWithoutFlow(metres(120.0));
    let unused = evidence.iter().find(|item| item.observation == unused).unwrap();
    assert_eq!(unused.feature.as_deref(), Some("MC"));
}

#[test]
fn without_frontage_the_owners_between_must_agree() {
    let facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &["101", "102"])]);
    check(&facts, Standing::Acquire, None, Confidence::High, &[Reason::NoFrontage, Reason::NaturalSurfaceFlow]);
    let found = judged(&facts);
    assert_eq!(ways_of(&facts), [WayKind::MutualAgreement, WayKind::Petition]);
    let crossed = parcels(&["101", "102"]);
    assert_eq!((found.ways[0].through(), &found.ways[0].outlet), (crossed.as_slice(), &Some(named("MC"))));
    check_acquires(&facts, "MC", 20.0, AcquireStep::AgreeOnDrain);
}

#[test]
fn a_road_between_brings_in_its_authority() {
    let facts = parcel(vec![over_road(meets(share(1, 20.0), "MC", CREEK, &[]))]);
    let way = &judged(&facts).ways[0];
    assert_eq!((way.way, way.through().len()), (WayKind::MutualAgreement, 0));
    assert_eq!(way.steps[0], WayStep::AskRoadAuthority);
    check_acquires(&facts, "MC", 20.0, AcquireStep::AgreeOnDrain);
    let lands = judged(&facts).next_step.first.lands;
    assert_eq!(lands, [LandToAsk { land: mill_road(), hectares: hectares(20.0) }]);
}

#[test]
fn frontage_in_the_doubt_band_lowers_confidence() {
    let mut facts = on_creek(vec![meets(share(1, 20.0), "MC", CREEK, &[])]);
    facts.frontage = vec![at(1.2, "MC", CREEK)];
    check(&facts, Standing::Right, Some(CREEK), Confidence::Medium, &[Reason::FrontageWithinBoundaryAccuracy]);
    check_keeps(&facts, "MC", RightStep::SurveyFrontage);
    facts.frontage = vec![at(3.4, "MC", CREEK)];
    let beyond = [
        Reason::NoFrontage,
        Reason::FrontageWithinBoundaryAccuracy,
        Reason::FrontageJustBeyondTolerance,
        Reason::NaturalSurfaceFlow,
    ];
    check(&facts, Standing::Acquire, None, Confidence::Medium, &beyond);
    check_acquires(&facts, "MC", 20.0, AcquireStep::MeasureDistance);
}

#[test]
fn a_lake_is_treated_alike_and_says_that_it_is_not_confirmed() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "L-1", "lake", &[])]);
    facts.frontage = vec![at(0.0, "L-1", "lake")];
    check(&facts, Standing::Right, Some("lake"), Confidence::Medium, &[Reason::RuleNotConfirmed]);
    assert!(matches!(judged(&facts).evidence[0].rule, Rule::Class { confirmed: false, .. }));
}

// Municipal drain

#[test]
fn assessed_land_on_the_drain_has_a_right() {
    check(&on_drain(vec![to_drain(1, 20.0)], assessed(20.0)), Standing::Right, Some(DRAIN), Confidence::High, &[]);
}

#[test]
fn no_schedule_leaves_a_right_with_medium_confidence() {
    let facts = on_drain(vec![to_drain(1, 20.0)], Assessed::NotSupplied);
    check(&facts, Standing::Right, Some(DRAIN), Confidence::Medium, &[Reason::ScheduleNotSupplied]);
    check_keeps(&facts, "D-07", RightStep::GetSchedule);
}

#[test]
fn land_not_in_the_schedule_must_connect() {
    let facts = on_drain(vec![to_drain(1, 20.0)], Assessed::NotListed);
    check(&facts, Standing::Acquire, None, Confidence::High, &[Reason::NotInSchedule, Reason::NaturalSurfaceFlow]);
    assert_eq!(ways_of(&facts), [WayKind::Connection]);
    check_acquires(&facts, "D-07", 20.0, AcquireStep::Connect);
}

/// The accuracy is the smaller of 1.4 ha and 10 % of the assessed hectares.
#[test]
fn only_an_excess_beyond_the_accuracy_counts() {
    let excess = |draining, ha| judged(&on_drain(vec![to_drain(1, draining)], assessed(ha))).acquire;
    assert_eq!(excess(10.9, 10.0), Hectares::ZERO);
    assert_eq!(excess(11.0, 10.0), Hectares::ZERO);
    assert!((excess(11.5, 10.0).hectares() - 1.5).abs() < 1e-9);
    assert_eq!(excess(41.4, 40.0), Hectares::ZERO);
    assert!((excess(42.0, 40.0).hectares() - 2.0).abs() < 1e-9);
    assert_eq!(excess(5.0, 40.0), Hectares::ZERO);
}

#[test]
fn the_excess_is_a_record_of_its_own() {
    let facts = on_drain(vec![to_drain(1, 12.0), to_drain(2, 8.0)], assessed(15.0));
    let expected = [Reason::ExceedsAssessedHectares, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::RightInPart, Some(DRAIN), Confidence::High, &expected);
    let found = judged(&facts);
    let records: Vec<_> =
        found.shares.iter().map(|share| (share.share, share.hectares.hectares(), share.standing)).collect();
    let (right, acquire) = (ShareStanding::Right, ShareStanding::Acquire);
    assert_eq!(records, [(1, 12.0, right), (2, 3.0, right), (2, 5.0, acquire)]);
    assert_eq!(found.shares[2].reasons, expected);
    assert_eq!(ways_of(&facts), [WayKind::Connection]);
    check_acquires(&facts, "D-07", 5.0, AcquireStep::AssessMore);
}

/// The demonstration's case: 15.45 ha drain to a drain that assesses 12 ha; the accuracy is 1.2 ha.
#[test]
fn an_excess_is_named_with_its_hectares_and_their_accuracy() {
    let found = judged(&on_drain(vec![to_drain(1, 15.45)], assessed(12.0)));
    assert_eq!((found.right, found.excesses.len()), (hectares(12.0), 1));
    let excess = &found.excesses[0];
    assert!((excess.hectares().hectares() - 3.45).abs() < 1e-9);
    assert!((excess.accuracy.hectares() - 1.2).abs() < 1e-9);
    assert_eq!((&excess.drain, excess.assessed, excess.draining), (&named("D-07"), hectares(12.0), hectares(15.45)));
    let measured: Vec<_> = found.evidence.into_iter().map(|item| item.observation).collect();
    assert!(measured.contains(&Observation::ExcessHectares(excess.hectares())));
    assert!(measured.contains(&Observation::AreaAccuracy(excess.accuracy)));
}

#[test]
fn an_excess_within_the_accuracy_keeps_the_right_at_most_medium() {
    let facts = on_drain(vec![to_drain(1, 20.0), to_drain(2, 1.0)], assessed(20.0));
    check(&facts, Standing::Right, Some(DRAIN), Confidence::Medium, &[Reason::ExceedsWithinAccuracy]);
    check(&on_drain(vec![to_drain(1, 20.0)], assessed(20.0)), Standing::Right, Some(DRAIN), Confidence::High, &[]);
}

#[test]
fn a_share_that_first_meets_a_creek_of_its_own_uses_no_assessed_hectares() {
    let by_creek = meets(meets(share(1, 20.0), "MC", CREEK, &[]), "D-07", DRAIN, &["101"]);
    let mut facts = on_drain(vec![by_creek, to_drain(2, 10.0)], assessed(10.0));
    facts.frontage.push(at(0.0, "MC", CREEK));
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[]);
}

#[test]
fn an_assessment_without_the_drain_needs_a_way_there() {
    let mut facts = on_drain(vec![meets(share(1, 20.0), "D-07", DRAIN, &["101"])], assessed(20.0));
    facts.frontage.clear();
    let expected = [Reason::AssessedButNotTouching, Reason::NaturalSurfaceFlow];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    assert_eq!(ways_of(&facts), [WayKind::MutualAgreement, WayKind::Petition]);
    check_acquires(&facts, "D-07", 20.0, AcquireStep::AgreeOnWayToDrain);
}

#[test]
fn a_drain_far_downstream_concerns_nobody_who_has_nothing_to_do_with_it() {
    let path = meets(meets(share(1, 20.0), "MC", CREEK, &["101"]), "D-07", DRAIN, &["101", "102"]);
    let expected = [Reason::NoFrontage, Reason::NaturalSurfaceFlow];
    check(&parcel(vec![path]), Standing::Acquire, None, Confidence::High, &expected);
}

// Agreement and award drains

fn in_agreement(named: bool, registered: Option<bool>, leads_on: bool) -> ParcelFacts {
    let mut path = meets(share(1, 20.0), "OL", AGREEMENT, &[]);
    if leads_on {
        path = meets(path, "MC", CREEK, &["101"]);
    }
    ParcelFacts { members: [member("OL", named, registered)].into(), ..parcel(vec![path]) }
}

#[test]
fn a_named_party_has_a_right() {
    let check =
        |facts, confidence, reasons: &[Reason]| check(&facts, Standing::Right, Some(AGREEMENT), confidence, reasons);
    check(in_agreement(true, Some(true), true), Confidence::High, &[]);
    check(in_agreement(true, Some(false), true), Confidence::Medium, &[Reason::AgreementNotRegistered]);
    check(in_agreement(true, None, true), Confidence::Medium, &[Reason::AgreementNotRegistered]);
    check(in_agreement(true, Some(true), false), Confidence::Medium, &[Reason::AgreementDrainWithoutOutlet]);
}

#[test]
fn a_stranger_to_the_agreement_has_none() {
    let facts = in_agreement(false, Some(true), true);
    check(&facts, Standing::Acquire, None, Confidence::High, &[Reason::NotNamedParty, Reason::NaturalSurfaceFlow]);
    assert_eq!(ways_of(&facts), [WayKind::MutualAgreement, WayKind::Petition]);
    let way = &judged(&facts).ways[0];
    assert_eq!((&way.steps[0], &way.outlet), (&WayStep::AskParties, &Some(named("OL"))));
    check_acquires(&facts, "OL", 20.0, AcquireStep::JoinAgreement);
}

#[test]
fn parties_not_supplied_leave_little_confidence() {
    let mut facts = in_agreement(true, None, true);
    facts.members = [].into();
    check(&facts, Standing::Acquire, None, Confidence::Low, &[Reason::PartiesNotSupplied, Reason::NaturalSurfaceFlow]);
}

// Ditches

#[test]
fn a_road_ditch_never_gives_a_right() {
    let path = runs_in(meets(share(1, 20.0), "MC", CREEK, &["101"]), "R-2", "road_ditch");
    let mut facts = parcel(vec![path]);
    let expected = [Reason::NoFrontage, Reason::RoadDitchIsNoOutlet];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    assert!(ways_of(&facts).contains(&WayKind::RoadAuthorityPermission));
    let step = AcquireStep::AgreeOnDrain;
    check_acquires(&facts, "MC", 20.0, step);
    facts.members = [member("R-2", true, None)].into();
    let expected = [Reason::NoFrontage, Reason::RoadPermissionIsRevocable];
    check(&facts, Standing::Acquire, None, Confidence::High, &expected);
    check_acquires(&facts, "MC", 20.0, AcquireStep::KeepRoadPermission);
}

#[test]
fn a_private_ditch_on_the_way_is_told() {
    let path = runs_in(meets(share(1, 20.0), "MC", CREEK, &["101"]), "P-3", "private_ditch");
    check(
        &parcel(vec![path]),
        Standing::Acquire,
        None,
        Confidence::High,
        &[Reason::NoFrontage, Reason::ConfersNoRight],
    );
}

#[test]
fn a_private_ditch_on_the_way_takes_nothing_from_a_right() {
    let path = runs_in(meets(share(1, 20.0), "MC", CREEK, &[]), "P-3", "private_ditch");
    check(&on_creek(vec![path]), Standing::Right, Some(CREEK), Confidence::High, &[]);
}

#[test]
fn a_road_ditch_on_the_way_to_a_right_needs_its_permission() {
    let path = runs_in(meets(share(1, 20.0), "MC", CREEK, &[]), "R-2", "road_ditch");
    let mut facts = on_creek(vec![over_road(path)]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::Medium, &[Reason::RoadDitchOnTheWay]);
    check_keeps(&facts, "MC", RightStep::AskRoadAuthority { can_be_led: true });
    assert_eq!(asked(&facts, WayKind::RoadAuthorityPermission), [Consenting::Land(mill_road())]);
    facts.members = [member("R-2", true, None)].into();
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[]);
    assert_eq!(ways_of(&facts), []);
}

#[test]
fn a_road_ditch_into_an_agreement_drain_needs_its_parties() {
    let path = over_road(runs_in(meets(share(1, 20.0), "OL", AGREEMENT, &[]), "R-2", "road_ditch"));
    let mut facts = parcel(vec![path]);
    facts.members = [member("OL", false, Some(true))].into();
    let expected = [Consenting::Land(mill_road()), of_parcel("555")];
    assert_eq!(asked(&facts, WayKind::RoadAuthorityPermission), expected);
    let way = judged(&facts).ways.into_iter().find(|way| way.way == WayKind::RoadAuthorityPermission).unwrap();
    assert_eq!(way.cures, Hectares::ZERO, "a permission is no right");
}

/// The lake lies at 100 m, the share leaves at 102 m.
#[test]
fn own_frontage_farther_down_is_a_way_past_the_drain() {
    let facts = to_drain_and_lake(Assessed::NotListed);
    let lead = judged(&facts).ways.into_iter().find(|way| way.way == WayKind::LeadToOwnFrontage).unwrap();
    assert_eq!((lead.outlet, lead.cures), (Some(named("L-1")), hectares(20.0)));
}

// What the data cannot decide

#[test]
fn a_path_that_ends_before_any_outlet() {
    let ends = |end| parcel(vec![ShareFacts { end, ..share(1, 20.0) }]);
    let check = |end, standing, confidence, reason| check(&ends(end), standing, None, confidence, &[reason]);
    check(PathEnd::Edge, Standing::Undecided, Confidence::Low, Reason::PathLeavesData);
    check(PathEnd::Hole, Standing::Undecided, Confidence::Low, Reason::HoleInElevation);
    check(PathEnd::KeptDepression, Standing::Acquire, Confidence::High, Reason::EndsInKeptDepression);
    check(PathEnd::ClosedLake, Standing::Acquire, Confidence::High, Reason::EndsInClosedLake);
}

/// It is an outlet as any lake is, and the finding says that its water goes no farther.
#[test]
fn a_closed_lake_confers_by_frontage_and_is_said_to_be_closed() {
    let share = ShareFacts { end: PathEnd::ClosedLake, ..meets(share(1, 20.0), "L-1", "lake", &[]) };
    let on_shore = ParcelFacts { frontage: vec![at(0.0, "L-1", "lake")], ..parcel(vec![share.clone()]) };
    let reasons = [Reason::EndsInClosedLake, Reason::RuleNotConfirmed];
    check(&on_shore, Standing::Right, Some("lake"), Confidence::Medium, &reasons);
    let expected = [Reason::EndsInClosedLake, Reason::NoFrontage, Reason::NaturalSurfaceFlow, Reason::RuleNotConfirmed];
    check(&parcel(vec![share]), Standing::Acquire, None, Confidence::Medium, &expected);
}

#[test]
fn an_outlet_before_the_end_decides() {
    for end in [PathEnd::Edge, PathEnd::Hole, PathEnd::KeptDepression] {
        let path = ShareFacts { end, ..meets(share(1, 20.0), "MC", CREEK, &["101"]) };
        let expected = [Reason::NoFrontage, Reason::NaturalSurfaceFlow];
        check(&parcel(vec![path]), Standing::Acquire, None, Confidence::High, &expected);
    }
}

fn channelled(share: ShareFacts) -> ShareFacts {
    ShareFacts { marked_channel: Some(MarkedChannel { hectares: hectares(60.0), depth: metres(0.9) }), ..share }
}

#[test]
fn an_unmapped_channel_matters_only_where_the_finding_turns_on_it() {
    let acquire = parcel(vec![channelled(meets(share(1, 20.0), "MC", CREEK, &["101"]))]);
    let expected = [Reason::UnmappedChannel, Reason::NoFrontage, Reason::NaturalSurfaceFlow];
    check(&acquire, Standing::Undecided, None, Confidence::Low, &expected);
    assert_eq!(ways_of(&acquire), []);
    let leaves = parcel(vec![channelled(share(1, 20.0))]);
    let expected = [Reason::UnmappedChannel, Reason::PathLeavesData];
    check(&leaves, Standing::Undecided, None, Confidence::Low, &expected);
    let hole = parcel(vec![ShareFacts { end: PathEnd::Hole, ..channelled(share(1, 20.0)) }]);
    let expected = [Reason::UnmappedChannel, Reason::HoleInElevation];
    check(&hole, Standing::Undecided, None, Confidence::Low, &expected);
    let right = on_creek(vec![channelled(meets(share(1, 20.0), "MC", CREEK, &[]))]);
    check(&right, Standing::Right, Some(CREEK), Confidence::High, &[]);
    assert!(judged(&right).evidence.iter().any(|item| matches!(item.rule, Rule::UnmappedChannel { .. })));
}

#[test]
fn missing_elevation_counts_above_both_minimums() {
    let missing = |area, missing| {
        let mut facts = on_creek(vec![meets(share(1, area), "MC", CREEK, &[])]);
        facts.missing_ha = hectares(missing);
        judged(&facts).standing
    };
    assert_eq!(missing(10.0, 0.19), Standing::Right);
    assert_eq!(missing(10.0, 0.21), Standing::Undecided);
    assert_eq!(missing(1.0, 0.04), Standing::Right);
    assert_eq!(missing(1.0, 0.06), Standing::Undecided);
}

#[test]
fn missing_elevation_leaves_the_whole_parcel_undecided() {
    let mut facts = on_creek(vec![meets(share(1, 20.0), "MC", CREEK, &[])]);
    facts.missing_ha = hectares(2.0);
    check(&facts, Standing::Undecided, None, Confidence::Low, &[Reason::ElevationMissing]);
    assert_eq!(judged(&facts).undecided, hectares(20.0));
    check_step(&facts, None, 20.0, Action::CompleteData(DataStep::FillGaps { missing: hectares(2.0) }));
}

#[test]
fn a_parcel_outside_the_data_is_undecided() {
    let mut facts = parcel(vec![]);
    check(&facts, Standing::Undecided, None, Confidence::Low, &[Reason::SmallerThanACell]);
    check_step(&facts, None, 0.0, Action::CompleteData(DataStep::RefineElevation));
    facts.entirely_outside = true;
    check(&facts, Standing::Undecided, None, Confidence::Low, &[Reason::OutsideElevationData]);
    check_step(&facts, None, 0.0, Action::CompleteData(DataStep::CoverParcel));
}

// Doubts about the path

#[test]
fn a_small_fall_matters_where_the_finding_rests_on_the_path() {
    let falling = |fall, crossed: &[&str]| {
        let path = ShareFacts { fall: Some(metres(fall)), ..meets(share(1, 20.0), "MC", CREEK, crossed) };
        judged(&on_creek(vec![path])).confidence
    };
    // 2 · √2 · 0.1 m = 0.283 m
    assert_eq!(falling(0.28, &["101"]), Confidence::Medium);
    assert_eq!(falling(0.29, &["101"]), Confidence::High);
    assert_eq!(falling(0.0, &[]), Confidence::High);
}

#[test]
fn water_that_leaves_straight_into_the_creek_does_not_rest_on_its_fall() {
    let beside = |distance| {
        let mut path = ShareFacts { fall: Some(metres(0.05)), ..meets(share(1, 20.0), "MC", CREEK, &[]) };
        path.outlets[0].reached_on_own_land = false;
        ParcelFacts { frontage: vec![at(distance, "MC", CREEK)], ..parcel(vec![path]) }
    };
    check(&beside(0.0), Standing::Right, Some(CREEK), Confidence::High, &[]);
    let expected = [Reason::NoFrontage, Reason::NaturalSurfaceFlow, Reason::FallWithinElevationAccuracy];
    check(&beside(9.0), Standing::Acquire, None, Confidence::Medium, &expected);
}

/// The fall is measured to the first lawful outlet; beyond it the water runs in a mapped channel.
#[test]
fn a_basis_beyond_the_first_outlet_does_not_rest_on_the_fall_before_it() {
    let path = meets(meets(share(1, 20.0), "CC", CREEK, &[]), "MC", CREEK, &["101"]);
    let facts = on_creek(vec![ShareFacts { fall: Some(metres(0.0)), ..path }]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[Reason::WaterLeavesOverNeighbour]);
}

#[test]
fn a_path_over_a_suspected_culvert_loses_confidence() {
    let path = ShareFacts { over_suspected_culvert: true, ..meets(share(1, 20.0), "MC", CREEK, &[]) };
    let expected = [Reason::PathOverSuspectedCulvert];
    check(&on_creek(vec![path]), Standing::Right, Some(CREEK), Confidence::Medium, &expected);
}

#[test]
fn filled_ground_on_the_path_lowers_confidence() {
    let filled = |depth| {
        let path = ShareFacts { deepest_fill: metres(depth), ..meets(share(1, 20.0), "MC", CREEK, &[]) };
        judged(&on_creek(vec![path])).confidence
    };
    assert_eq!(filled(0.3), Confidence::High);
    assert_eq!(filled(0.31), Confidence::Medium);
}

/// Undecided or not: what was filled is named with its hectares and depth.
#[test]
fn filled_ground_is_named_where_nothing_is_decided() {
    let filled = |area, depth, path_depth| ShareFacts {
        deepest_fill: metres(path_depth),
        filled: Some(FilledGround { area: hectares(area), depth: metres(depth) }),
        ..share(1, 20.0)
    };
    let named = |share: ShareFacts| {
        let finding = judged(&parcel(vec![share]));
        assert_eq!(finding.standing, Standing::Undecided);
        let of_fill = |item: &Evidence| match &item.observation {
            Observation::FilledArea(area) => Some(area.hectares()),
            Observation::FilledDepth(depth) => Some(depth.metres()),
            _ => None,
        };
        let numbers: Vec<f64> = finding.evidence.iter().filter_map(of_fill).collect();
        (finding.reasons.contains(&Reason::PathCrossesFilledGround), numbers)
    };
    assert_eq!(named(filled(1.5, 1.2, 0.31)), (true, vec![1.5, 1.2]));
    assert_eq!(named(filled(2.1, 0.2, 0.1)), (true, vec![2.1, 0.2]));
    assert_eq!(named(filled(2.0, 1.2, 0.3)), (false, vec![]));
}

/// With 0.1 m of error in the heights two levels must differ by 0.28 m; 0.3 m where none is stated.
#[test]
fn a_path_that_ends_higher_is_a_fault_of_the_conditioning() {
    let reasons = |rmse: Option<f64>, fall, fill| {
        let path = ShareFacts { fall: Some(metres(fall)), deepest_fill: metres(fill), ..share(1, 20.0) };
        let facts = ParcelFacts { elevation_rmse: rmse.map(metres), ..parcel(vec![path]) };
        let finding = judged(&facts);
        let is_named = finding.reasons.contains(&Reason::PathEndsHigher);
        assert!(!is_named || finding.confidence == Confidence::Low);
        is_named
    };
    assert!(reasons(Some(0.1), -0.29, 0.29));
    assert!(!reasons(Some(0.1), -0.28, 0.4));
    assert!(reasons(None, -0.31, 0.4));
    assert!(!reasons(None, -0.3, 0.4));
    // A bridge over the channel is no filled ground.
    assert!(!reasons(Some(0.1), -2.0, 0.1));
}

// Ways of several shares

fn shown(way: &Way) -> (WayKind, &[u32], Vec<&str>) {
    (way.way, &way.shares, way.through().iter().map(ParcelId::as_str).collect())
}

fn check_ways(facts: &ParcelFacts, expected: &[(WayKind, &[u32], &[&str])]) {
    let ways = judged(facts).ways;
    let expected: Vec<_> = expected.iter().map(|&(way, shares, through)| (way, shares, through.to_vec())).collect();
    assert_eq!(ways.iter().map(shown).collect::<Vec<_>>(), expected);
}

fn to_creek(number: u32, ha: f64, creek: &str, crossed: &[&str]) -> ShareFacts {
    meets(share(number, ha), creek, CREEK, crossed)
}

#[test]
fn shares_with_the_same_outlet_have_one_way_over_all_neighbours() {
    let facts = parcel(vec![
        to_creek(1, 5.0, "MC", &["101", "103"]),
        to_creek(2, 9.0, "MC", &["102", "103"]),
        to_creek(3, 1.0, "MC", &["103"]),
    ]);
    let (shares, through): (&[u32], &[&str]) = (&[1, 2, 3], &["102", "103", "101"]);
    let kinds = [WayKind::MutualAgreement, WayKind::Petition];
    check_ways(&facts, &kinds.map(|kind| (kind, shares, through)));
}

#[test]
fn each_outlet_has_its_own_way_that_of_the_largest_share_first() {
    let facts = parcel(vec![to_creek(1, 5.0, "MC", &["101"]), to_creek(2, 9.0, "CC", &["101"])]);
    let (agreement, petition) = (WayKind::MutualAgreement, WayKind::Petition);
    let to_cc: (&[u32], &[&str]) = (&[2], &["101"]);
    let to_mc: (&[u32], &[&str]) = (&[1], &["101"]);
    let expected = [(agreement, to_cc), (agreement, to_mc), (petition, to_cc), (petition, to_mc)];
    check_ways(&facts, &expected.map(|(kind, (shares, through))| (kind, shares, through)));
}

#[test]
fn an_excess_over_two_shares_is_one_connection() {
    let excess = on_drain(vec![to_drain(1, 12.0), to_drain(2, 8.0), to_drain(3, 4.0)], assessed(15.0));
    check_ways(&excess, &[(WayKind::Connection, &[2, 3], &[])]);
}

#[test]
fn a_road_that_any_share_crosses_brings_in_its_authority() {
    let over_road = over_road(to_creek(2, 5.0, "MC", &[]));
    let facts = parcel(vec![to_creek(1, 9.0, "MC", &["101"]), over_road, to_creek(3, 2.0, "CC", &["101"])]);
    let ways = judged(&facts).ways;
    let asks = |way: &Way| way.steps.iter().filter(|step| **step == WayStep::RoadAuthorityMustAgreeToo).count();
    let agreements = ways.iter().filter(|way| way.way == WayKind::MutualAgreement);
    let found: Vec<_> = agreements.map(|way| (way.shares.as_slice(), asks(way))).collect();
    assert_eq!(found, [(&[1, 2][..], 1), (&[3][..], 0)]);
}

#[test]
fn water_led_to_the_same_frontage_is_one_way() {
    let own = |number, ha, neighbour| to_creek(number, ha, "MC", &[neighbour]);
    let facts = on_creek(vec![own(1, 5.0, "101"), own(2, 9.0, "102"), to_creek(3, 2.0, "CC", &["101"])]);
    let lead = &judged(&facts).ways[0];
    assert_eq!(shown(lead), (WayKind::LeadToOwnFrontage, &[1, 2][..], vec![]));
    assert_eq!(lead.crossed, parcels(&["102", "101"]));
}

#[test]
fn permission_for_road_ditches_is_asked_once() {
    let in_ditch = |path, ditch| runs_in(path, ditch, "road_ditch");
    let shares = vec![
        in_ditch(to_creek(1, 9.0, "MC", &["101"]), "R-2"),
        in_ditch(to_creek(2, 5.0, "CC", &["102"]), "R-3"),
        to_creek(3, 2.0, "MC", &["101"]),
    ];
    let ways = judged(&parcel(shares)).ways;
    let permission: Vec<_> = ways.iter().filter(|way| way.way == WayKind::RoadAuthorityPermission).map(shown).collect();
    assert_eq!(permission, [(WayKind::RoadAuthorityPermission, &[1, 2][..], vec![])]);
}

#[test]
fn shares_that_meet_no_outlet_have_one_petition() {
    let kept = |number, ha| ShareFacts { end: PathEnd::KeptDepression, ..share(number, ha) };
    check_ways(&parcel(vec![kept(1, 3.0), kept(2, 5.0)]), &[(WayKind::Petition, &[1, 2], &[])]);
}

// The parcel

#[test]
fn standing_sums_up_the_shares() {
    let right = || meets(share(1, 4.0), "MC", CREEK, &[]);
    let acquire = |ha| meets(share(2, ha), "CC", CREEK, &["101"]);
    let undecided = |ha| share(3, ha);
    let check = |shares, expected: Standing| assert_eq!(judged(&on_creek(shares)).standing, expected);
    check(vec![right(), right()], Standing::Right);
    check(vec![right(), acquire(9.0)], Standing::RightInPart);
    check(vec![right(), undecided(9.0)], Standing::RightInPart);
    check(vec![acquire(5.0), undecided(4.0)], Standing::Acquire);
    check(vec![acquire(5.0), undecided(5.0)], Standing::Acquire);
    check(vec![acquire(4.0), undecided(5.0)], Standing::Undecided);
}

#[test]
fn the_remainder_counts_in_the_hectares_only() {
    let remainder = ShareFacts { is_remainder: true, ..share(2, 0.03) };
    let facts = on_creek(vec![meets(share(1, 20.0), "MC", CREEK, &[]), remainder.clone()]);
    check(&facts, Standing::Right, Some(CREEK), Confidence::High, &[]);
    assert_eq!(judged(&facts).undecided, hectares(0.03));
    let expected = [Reason::PathLeavesData, Reason::FindingRestsOnRemainder];
    check(&parcel(vec![remainder]), Standing::Undecided, None, Confidence::Low, &expected);
}

// The next step

#[test]
fn the_next_step_settles_the_most_land_first() {
    let to_cc = |number, ha, neighbour| meets(share(number, ha), "CC", CREEK, &[neighbour]);
    let facts = parcel(vec![to_cc(1, 5.0, "101"), share(2, 9.0), to_cc(3, 6.0, "102")]);
    let found = judged(&facts).next_step;
    let agree = AcquireStep::AgreeOnDrain;
    assert_eq!((found.first.hectares, found.first.action), (hectares(11.0), Action::Acquire(agree)));
    let then: Vec<_> = found.then.into_iter().map(|step| (step.hectares, step.action)).collect();
    assert_eq!(then, [(hectares(9.0), Action::CompleteData(DataStep::ExtendDownstream))]);
}

/// Each document and each consent that a right lacks is a step of its own.
#[test]
fn a_presumed_right_hides_no_road_and_no_neighbour() {
    let by_ditch = over_road(runs_in(to_drain(1, 18.0), "R-2", "road_ditch"));
    let found = judged(&on_drain(vec![by_ditch], Assessed::NotSupplied)).next_step;
    let actions: Vec<Action> = std::iter::once(found.first).chain(found.then).map(|step| step.action).collect();
    let road = RightStep::AskRoadAuthority { can_be_led: true };
    assert_eq!(actions, [RightStep::GetSchedule, road].map(Action::KeepRight));
}

/// 12 ha are assessed and 8 drain there: 4 ha more than the accuracy of 1.2 ha leaves in doubt.
#[test]
fn an_assessment_that_is_not_used_is_named_where_something_is_open() {
    let elsewhere = || meets(share(2, 5.0), "CC", CREEK, &["101"]);
    let unused = |shares| judged(&on_drain(shares, assessed(12.0))).next_step.unused;
    let expected = UnusedAssessment { drain: named("D-07"), assessed: hectares(12.0), draining: hectares(8.0) };
    assert_eq!(unused(vec![to_drain(1, 8.0), elsewhere()]), [expected]);
    assert_eq!(unused(vec![to_drain(1, 11.0), elsewhere()]), []);
    assert_eq!(unused(vec![to_drain(1, 8.0)]), []);
}

/// A culvert that is only suspected decides where the water goes, whatever else is open.
#[test]
fn a_suspected_culvert_on_the_way_of_undecided_land_is_named() {
    let shares = vec![ShareFacts { over_suspected_culvert: true, ..share(1, 20.0) }];
    let found = judged(&parcel(shares));
    assert!(
        found.reasons.contains(&Reason::PathOverSuspectedCulvert)
            && found.next_step.first.over_suspected_culvert == hectares(20.0)
    );
}

/// A tenth of the hectares is the profile's doubtful fraction.
#[test]
fn a_small_share_is_named_after_what_holds_for_the_rest() {
    let facts = |ha| on_creek(vec![meets(share(1, 9.0), "MC", CREEK, &[]), share(2, ha)]);
    let extend = Action::CompleteData(DataStep::ExtendDownstream);
    let found = judged(&facts(0.9)).next_step;
    assert_eq!(found.first.action, Action::KeepRight(RightStep::ConfirmOutlet));
    // 3 ha of 42 are small by the fraction, not by the accuracy of watershed areas, 1.4 ha.
    let large = on_creek(vec![meets(share(1, 39.0), "MC", CREEK, &[]), share(2, 3.0)]);
    assert_eq!(judged(&large).next_step.first.action, extend);
    assert_eq!(found.then.iter().map(|step| &step.action).collect::<Vec<_>>(), [&extend]);
    let found = judged(&facts(1.1)).next_step;
    assert_eq!((found.first.action, found.then), (extend, vec![]));
}

#[test]
fn a_schedule_that_is_missing_for_most_of_the_land_comes_first() {
    let facts = on_drain(vec![to_drain(1, 18.0), meets(share(2, 2.0), "CC", CREEK, &["101"])], Assessed::NotSupplied);
    let found = judged(&facts).next_step;
    assert_eq!((found.first.hectares, found.first.action), (hectares(18.0), Action::KeepRight(RightStep::GetSchedule)));
    assert_eq!(found.then.len(), 1);
}

fn check_completes(share: ShareFacts, step: DataStep) {
    check_step(&parcel(vec![share]), None, 20.0, Action::CompleteData(step));
}

#[test]
fn an_undecided_share_needs_data_first() {
    check_completes(share(1, 20.0), DataStep::ExtendDownstream);
    let hole = ShareFacts { end: PathEnd::Hole, ..share(1, 20.0) };
    check_completes(hole, DataStep::FillGapDownstream);
    check_completes(channelled(share(1, 20.0)), DataStep::LookAtChannel);
    let filled = |area| Some(FilledGround { area: hectares(area), depth: metres(1.5) });
    check_completes(ShareFacts { filled: filled(2.5), ..share(1, 20.0) }, DataStep::LookAtFilledGround);
    check_completes(ShareFacts { filled: filled(0.5), ..share(1, 20.0) }, DataStep::ExtendDownstream);
}

#[test]
fn water_that_ends_in_a_depression_has_no_outlet_to_name() {
    let facts = parcel(vec![ShareFacts { end: PathEnd::KeptDepression, ..share(1, 20.0) }]);
    check_step(&facts, None, 20.0, Action::Acquire(AcquireStep::DrainDepression));
}

#[test]
fn a_right_is_confirmed_and_its_doubts_settled() {
    let creek = |deepest_fill| {
        on_creek(vec![ShareFacts { deepest_fill: metres(deepest_fill), ..meets(share(1, 20.0), "MC", CREEK, &[]) }])
    };
    check_keeps(&creek(0.0), "MC", RightStep::ConfirmOutlet);
    check_keeps(&creek(0.31), "MC", RightStep::SurveyLevels);
    check_keeps(&in_agreement(true, Some(false), true), "OL", RightStep::Register);
    check_keeps(&in_agreement(true, None, true), "OL", RightStep::CheckRegistration);
    check_keeps(&in_agreement(true, Some(true), false), "OL", RightStep::AskWhereDrainEnds);
}

#[test]
fn documents_that_are_missing_are_asked_for() {
    let mut facts = in_agreement(true, None, true);
    facts.members = [].into();
    check_acquires(&facts, "OL", 20.0, AcquireStep::AskWhetherNamed);
    facts.owned_since = Some("2015".parse().unwrap());
    facts.members = [Membership { agreed: Some("1998".parse().unwrap()), ..member("OL", true, Some(false)) }].into();
    check_acquires(&facts, "OL", 20.0, AcquireStep::RenewAgreement);
}

#[test]
fn the_outlet_is_the_first_of_the_largest_share() {
    let shares = vec![meets(share(1, 4.0), "MC", CREEK, &[]), meets(share(2, 9.0), "CC", CREEK, &["101"])];
    let outlet = judged(&on_creek(shares)).outlet.unwrap();
    assert_eq!((outlet.feature.as_str(), outlet.class.as_str()), ("CC", CREEK));
}

#[test]
fn the_outlet_is_never_that_of_the_remainder_where_there_are_shares() {
    let remainder = ShareFacts { is_remainder: true, ..meets(share(2, 9.0), "CC", CREEK, &["101"]) };
    let facts = on_creek(vec![meets(share(1, 4.0), "MC", CREEK, &[]), remainder]);
    assert_eq!(judged(&facts).outlet.unwrap().feature, "MC");
}

#[test]
fn what_two_shares_rest_on_is_told_once() {
    let shares = vec![meets(share(1, 4.0), "MC", CREEK, &[]), meets(share(2, 9.0), "MC", CREEK, &[])];
    let evidence = judged(&on_creek(shares)).evidence;
    let observations: Vec<_> = evidence.into_iter().map(|item| item.observation).collect();
    let expected = [Observation::DistanceToParcel(metres(0.0)), Observation::FrontageLength(metres(120.0))];
    assert_eq!(observations, expected);
}

#[test]
fn all_bases_are_told_strongest_first() {
    let mut facts = on_drain(vec![to_creek(1, 5.0, "MC", &[]), to_drain(2, 20.0)], assessed(20.0));
    facts.frontage.push(at(0.0, "MC", CREEK));
    let found = judged(&facts);
    assert_eq!((found.basis.as_deref(), found.bases), (Some(CREEK), vec![CREEK.to_owned(), DRAIN.to_owned()]));
}

#[test]
fn an_unknown_class_confers_nothing() {
    let facts = parcel(vec![meets(share(1, 20.0), "X", "canal", &[])]);
    check(&facts, Standing::Acquire, None, Confidence::High, &[Reason::NaturalSurfaceFlow]);
}

// Confidence

/// Hectares of a share whose agreement is not registered (medium) and of one that leaves the data (low), beside 9 ha whose
/// right is sure.
fn check_confidence(medium: f64, low: f64, expected: Confidence) {
    let to_agreement = meets(meets(share(2, medium), "OL", AGREEMENT, &[]), "CC", CREEK, &["101"]);
    let mut facts = on_creek(vec![meets(share(1, 9.0), "MC", CREEK, &[]), to_agreement, share(3, low)]);
    facts.members = [member("OL", true, Some(false))].into();
    let found = judged(&facts);
    assert_eq!(found.confidence, expected, "{medium} ha medium, {low} ha low");
    let by_share: Vec<Confidence> = found.shares.iter().map(|share| share.confidence).collect();
    assert_eq!(by_share, [Confidence::High, Confidence::Medium, Confidence::Low]);
}

#[test]
fn confidence_weighs_by_hectares() {
    check_confidence(0.3, 0.2, Confidence::High);
    check_confidence(0.9, 0.5, Confidence::Medium);
    check_confidence(0.5, 0.9, Confidence::Medium);
    check_confidence(0.5, 1.5, Confidence::Low);
    check_confidence(5.0, 0.2, Confidence::Medium);
}

#[test]
fn a_divide_within_the_accuracy_of_the_elevation_is_told() {
    // Elevations to 0.1 m: twice the standard error of a difference is 0.283 m.
    let divided = |height| {
        let path = ShareFacts { divide_height: Some(metres(height)), ..meets(share(1, 20.0), "MC", CREEK, &[]) };
        judged(&on_creek(vec![path]))
    };
    assert_eq!(divided(0.29).reasons, []);
    let found = divided(0.28);
    assert_eq!((found.confidence, found.reasons), (Confidence::Medium, vec![Reason::DivideWithinElevationAccuracy]));
    assert_eq!(found.field_checks.len(), 1);
    assert!(found.evidence.iter().any(|item| matches!(item.observation, Observation::DivideHeight(_))));
}

// Ways

#[test]
fn a_way_names_those_who_must_agree_and_the_metres_across_each() {
    let path = over_road(meets(meets(share(1, 20.0), "OL", AGREEMENT, &["101"]), "MC", CREEK, &["101"]));
    let mut facts = parcel(vec![path]);
    facts.members = [member("OL", false, Some(true))].into();
    let ways = judged(&facts).ways;
    let agreement = ways.iter().find(|way| way.way == WayKind::MutualAgreement).unwrap();
    let asked: Vec<_> = agreement.consents.iter().map(|consent| (consent.who.clone(), consent.metres)).collect();
    let hundred = Some(metres(100.0));
    let road = Consenting::Land(mill_road());
    assert_eq!(asked, [(of_parcel("101"), hundred), (road, hundred), (of_parcel("555"), None)]);
    assert!(agreement.documents.iter().any(|document| document.contains("legal descriptions")));
    let of_profile = |step: &WayStep| matches!(step, WayStep::OfProfile(words) if words.contains("legal advice") && words.contains("register"));
    assert!(agreement.steps.iter().any(of_profile));
    assert!(agreement.if_refused.contains("petition"));
    let petition = ways.iter().find(|way| way.way == WayKind::Petition).unwrap();
    assert_eq!(petition.consents, [], "a petition does not need every owner on the way");
}

fn of_parcel(id: &str) -> Consenting {
    Consenting::Land(Land::Parcel(ParcelId::new(id)))
}

fn asked(facts: &ParcelFacts, kind: WayKind) -> Vec<Consenting> {
    let way = judged(facts).ways.into_iter().find(|way| way.way == kind).unwrap();
    way.consents.into_iter().map(|consent| consent.who).collect()
}

#[test]
fn an_agreement_into_a_municipal_drain_needs_the_municipality() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "D-07", DRAIN, &["101"])]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    let expected = [of_parcel("101"), Consenting::Municipality { drain: named("D-07") }];
    assert_eq!(asked(&facts, WayKind::MutualAgreement), expected);
    assert_eq!(asked(&facts, WayKind::Connection), expected);
}

#[test]
fn the_way_to_a_road_ditch_names_who_lies_between_and_the_drain_below() {
    let mut path = over_road(runs_in(meets(share(1, 20.0), "D-07", DRAIN, &["101", "102"]), "R-2", "road_ditch"));
    path.also_met[0].crossed_before = parcels(&["101"]);
    let mut facts = parcel(vec![path]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    let drain = Consenting::Municipality { drain: named("D-07") };
    let expected = [of_parcel("101"), Consenting::Land(mill_road()), drain];
    assert_eq!(asked(&facts, WayKind::RoadAuthorityPermission), expected);
}

#[test]
fn nobody_agrees_with_himself() {
    let mut facts = in_agreement(false, Some(true), true);
    facts.also_owned = parcels(&["555"]);
    assert_eq!(asked(&facts, WayKind::MutualAgreement), []);
}

#[test]
fn no_neighbour_can_give_hectares_beyond_an_assessment() {
    let mut facts = on_drain(vec![meets(share(1, 20.0), "D-07", DRAIN, &["101"])], assessed(12.0));
    assert_eq!(ways_of(&facts), [WayKind::LeadToOwnFrontage, WayKind::Connection]);
    facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
    assert_eq!(ways_of(&facts), [WayKind::MutualAgreement, WayKind::Connection]);
}

#[test]
fn land_of_no_party_under_an_agreement_drain_is_asked() {
    let mut facts = parcel(vec![meets(share(1, 20.0), "OL", AGREEMENT, &["101"])]);
    facts.members = [Membership { runs_over: parcels(&["301", "100"]), ..member("OL", false, Some(true)) }].into();
    assert_eq!(asked(&facts, WayKind::MutualAgreement), ["101", "555", "301"].map(of_parcel));
    assert_eq!(judged(&facts).next_step.first.runs_over, parcels(&["301"]));
}

#[test]
fn own_frontage_is_a_way_past_a_road_ditch() {
    let by_ditch = on_creek(vec![over_road(runs_in(meets(share(1, 20.0), "MC", CREEK, &[]), "R-2", "road_ditch"))]);
    assert_eq!(ways_of(&by_ditch), [WayKind::LeadToOwnFrontage, WayKind::RoadAuthorityPermission]);
}

#[test]
fn a_road_whose_ditch_may_be_used_is_not_asked_again() {
    let asked_of = |is_named, carriers: &[Option<&str>]| {
        let mut path = over_road(runs_in(meets(share(1, 20.0), "D-07", DRAIN, &["101"]), "R-2", "road_ditch"));
        path.lands[1].carriers = carriers.iter().map(|carrier| carrier.map(ToOwned::to_owned)).collect();
        let mut facts = parcel(vec![path]);
        facts.assessments = vec![assessment("D-07", Assessed::NotListed)];
        facts.members = [member("R-2", is_named, None)].into();
        let is_named = judged(&facts).next_step.first.lands.iter().any(|on| on.land == mill_road());
        let asked = asked(&facts, WayKind::Connection);
        assert_eq!(asked.contains(&Consenting::Land(mill_road())), is_named);
        is_named
    };
    assert!(!asked_of(true, &[Some("R-2")]));
    assert!(!asked_of(true, &[Some("R-2"), Some("R-2")]));
    assert!(asked_of(false, &[Some("R-2")]));
    // Elsewhere the water crosses the road outside its ditch.
    assert!(asked_of(true, &[Some("R-2"), None]));
    assert!(asked_of(true, &[Some("R-2"), Some("CU-4")]));
}

#[test]
fn a_permission_that_is_held_is_not_asked_for_again() {
    let saskatchewan = Profile::shipped("saskatchewan").unwrap();
    let of = |named: &[&str]| {
        let mut facts = parcel(vec![meets(share(1, 20.0), "MC", CREEK, &["101", "102"])]);
        facts.members = [Membership { parties: parcels(named), ..member("MC", false, None) }].into();
        let ways = judge(&facts, &saskatchewan).ways;
        let asked = |way: Way| (way.way, way.consents.into_iter().map(|consent| consent.who).collect::<Vec<_>>());
        ways.into_iter()
            .map(asked)
            .filter(|(way, _)| *way == WayKind::WrittenPermissions || *way == WayKind::Approval)
            .collect::<Vec<_>>()
    };
    assert_eq!(of(&["100", "101"]), [(WayKind::WrittenPermissions, vec![of_parcel("102")])]);
    let without = of(&["101", "102"]);
    assert_eq!(without.iter().map(|(way, _)| *way).collect::<Vec<_>>(), [WayKind::Approval]);
}

#[test]
fn each_way_says_how_much_it_would_cure() {
    let facts = on_drain(vec![to_drain(1, 12.0), to_drain(2, 8.0)], assessed(15.0));
    let cured: Vec<_> = judged(&facts).ways.iter().map(|way| (way.way, way.cures)).collect();
    assert_eq!(cured, [(WayKind::Connection, hectares(5.0))]);
}

#[test]
fn own_frontage_is_a_way_only_where_length_and_levels_allow_it() {
    let facts = |lowest, length| {
        let shares = vec![to_creek(1, 20.0, "MC", &["101"]), to_creek(2, 5.0, "CC", &["101"])];
        let there = Frontage { lowest_ground: Some(metres(lowest)), length: metres(length), ..at(0.0, "MC", CREEK) };
        ParcelFacts { frontage: vec![there], ..parcel(shares) }
    };
    let leads = |facts: &ParcelFacts| ways_of(facts).contains(&WayKind::LeadToOwnFrontage);
    assert!(leads(&facts(100.0, 120.0)));
    assert!(!leads(&facts(103.0, 120.0)), "the ground there lies higher");
    assert!(!leads(&facts(100.0, 4.0)), "too short");
}

fn any_share() -> impl Strategy<Value = ShareFacts> {
    let feature =
        prop::sample::select(vec![("MC", CREEK), ("L-1", "lake"), ("D-07", DRAIN), ("D-08", DRAIN), ("OL", AGREEMENT)]);
    let outlets = prop::collection::vec((feature, prop::sample::subsequence(vec!["101", "102"], 0..=2)), 0..4);
    let met = prop::sample::subsequence(vec![("R-2", "road_ditch"), ("P-3", "private_ditch")], 0..=2);
    let ends = vec![PathEnd::Edge, PathEnd::Hole, PathEnd::KeptDepression, PathEnd::ClosedLake];
    let end = prop::sample::select(ends);
    let flags = (any::<bool>(), any::<bool>(), any::<bool>());
    (0.0..40.0, outlets, met, end, flags, 0.0..0.6, 0.0..0.6).prop_map(
        |(ha, outlets, met, end, (road, channel, remainder), fall, fill)| {
            let mut path = share(1, ha);
            for ((feature, class), crossed) in outlets {
                path = meets(path, feature, class, &crossed);
            }
            path = met.into_iter().fold(path, |path, (feature, class)| runs_in(path, feature, class));
            let mut path = if channel { channelled(path) } else { path };
            let (fall, deepest_fill) = (Some(metres(fall)), metres(fill));
            path.lands.extend(road.then(|| on(mill_road())));
            ShareFacts { end, is_remainder: remainder, fall, deepest_fill, ..path }
        },
    )
}

fn any_facts() -> impl Strategy<Value = ParcelFacts> {
    let frontage =
        prop::sample::subsequence(vec![("MC", CREEK), ("L-1", "lake"), ("D-07", DRAIN), ("D-08", DRAIN)], 0..=4);
    let assessed = prop::option::of(prop::option::of(0.0..30.0));
    let membership = prop::option::of((any::<bool>(), prop::option::of(any::<bool>())));
    let shares = prop::collection::vec(any_share(), 0..5);
    (shares, frontage, 0.0..5.0, (assessed.clone(), assessed), membership, 0.0..0.5).prop_map(
        |(shares, frontage, distance, (first, second), membership, missing)| {
            let mut facts = parcel(shares);
            facts.frontage = frontage.into_iter().map(|(feature, class)| at(distance, feature, class)).collect();
            for (drain, assessed) in [("D-07", first), ("D-08", second)] {
                let listed = |ha: Option<f64>| ha.map_or(Assessed::NotListed, |ha| Assessed::Hectares(hectares(ha)));
                facts.assessments.extend(assessed.map(|ha| assessment(drain, listed(ha))));
            }
            facts.members = membership.map(|(named, registered)| member("OL", named, registered)).into_iter().collect();
            facts.missing_ha = hectares(missing);
            facts
        },
    )
}

fn total<'a>(areas: impl Iterator<Item = &'a Hectares>) -> f64 {
    areas.map(|area| area.hectares()).sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn hectares_sum_and_the_finding_agrees_with_its_shares(facts in any_facts()) {
        let found = judged(&facts);
        let shares = total(facts.shares.iter().map(|share| &share.hectares));
        prop_assert!((total([found.right, found.acquire, found.undecided].iter()) - shares).abs() < 1e-9);
        prop_assert!((total(found.shares.iter().map(|share| &share.hectares)) - shares).abs() < 1e-9);
        for (point, share) in facts.shares.iter().enumerate() {
            let records = found.shares.iter().filter(|record| record.leaving_point == ShareIx(point));
            prop_assert!((total(records.map(|record| &record.hectares)) - share.hectares.hectares()).abs() < 1e-9);
        }
        for record in &found.shares {
            prop_assert_eq!(record.basis.is_some(), record.standing == ShareStanding::Right);
            prop_assert!(record.standing == ShareStanding::Right || !record.reasons.is_empty());
            prop_assert!(record.hectares >= Hectares::ZERO);
        }
        prop_assert_eq!(found.basis.is_some(), matches!(found.standing, Standing::Right | Standing::RightInPart));
        prop_assert_eq!(found.basis.as_ref(), found.bases.first());
    }

    #[test]
    fn a_conclusion_is_that_of_the_finding(facts in any_facts()) {
        prop_assert_eq!(Conclusion::on(&facts, &ontario()), Conclusion::of(&judged(&facts)));
    }

    #[test]
    fn every_finding_explains_itself(facts in any_facts()) {
        let found = judged(&facts);
        prop_assert!(found.standing == Standing::Right || !found.reasons.is_empty());
        prop_assert!(found.reasons.iter().map(|reason| reason.confidence()).min().unwrap_or(Confidence::High) <= found.confidence);
        let named = |step: &WayStep| matches!(step, WayStep::OfProfile(words) if words.contains("{parcels}"));
        for way in &found.ways {
            prop_assert!(!way.steps.is_empty());
            prop_assert!(!way.crossed.is_empty() || !way.steps.iter().any(named), "names parcels where none is crossed");
        }
        for step in std::iter::once(&found.next_step.first).chain(&found.next_step.then) {
            let depression = found.reasons.contains(&Reason::EndsInKeptDepression)
                || found.reasons.contains(&Reason::EndsInClosedLake);
            prop_assert!(step.outlet.is_some() || depression || !matches!(step.action, Action::Acquire(_)));
        }
        prop_assert!(found.ways.iter().all(|way| way.shares.is_sorted_by(|a, b| a < b)));
        let petitions = found.ways.iter().filter(|way| way.way == WayKind::Petition);
        let routes: BTreeSet<_> = petitions.clone().map(|way| way.outlet.as_ref().map(|to| &to.feature)).collect();
        prop_assert_eq!(routes.len(), petitions.count(), "one petition for each outlet");
    }

    /// More frontage, more assessed hectares, being named: none takes hectares with a right away.
    #[test]
    fn a_better_document_never_takes_a_right_away(facts in any_facts()) {
        let before = judged(&facts).right.hectares();
        let mut better = facts.clone();
        for frontage in &mut better.frontage {
            frontage.distance = Metres::ZERO;
        }
        better.members = [member("OL", true, Some(true))].into();
        better.assessments.retain(|assessment| assessment.assessed.hectares().is_some());
        for assessment in &mut better.assessments {
            assessment.assessed = assessed(1000.0);
        }
        prop_assert!(judged(&better).right.hectares() >= before - 1e-9);
    }
}
