//! What the drains' schedules say about a parcel beside what is measured.

use fallwright_units::Hectares;

use crate::provisions::{Contact, contact};
use crate::share::Claim;
use crate::{
    Assessed, Assessment, Land, LandOnPath, OutletOnPath, ParcelFacts, Profile, ScheduleCase, ScheduleCheck, ShareFacts,
};

/// A record for each drain with a schedule that has to do with the parcel.
pub(crate) fn schedule_checks(facts: &ParcelFacts, claims: &[Vec<Claim>], profile: &Profile) -> Vec<ScheduleCheck> {
    facts.assessments.iter().filter_map(|assessment| check(assessment, facts, claims, profile)).collect()
}

/// Whether a drain assesses the parcel for some land, while none of its water goes there.
pub(crate) fn is_unused(assessment: &Assessment, facts: &ParcelFacts) -> bool {
    assessment.assessed.hectares().is_some_and(|hectares| hectares > Hectares::ZERO)
        && sharing(&assessment.drain, facts).next().is_none()
        && piped_in(&assessment.drain, facts) == Hectares::ZERO
}

fn check(
    assessment: &Assessment,
    facts: &ParcelFacts,
    claims: &[Vec<Claim>],
    profile: &Profile,
) -> Option<ScheduleCheck> {
    let drain = assessment.drain.as_str();
    let shares: Vec<&ShareFacts> = sharing(drain, facts).collect();
    let draining = shares.iter().fold(Hectares::ZERO, |sum, share| sum + share.hectares);
    let piped_in = piped_in(drain, facts);
    let measured = draining + piped_in;
    let drains_there = measured > Hectares::ZERO;
    let case = match (assessment.assessed, contact(drain, facts)) {
        (Assessed::Hectares(_), _) if !drains_there => ScheduleCase::AssessedNotDraining,
        (Assessed::Hectares(_), Contact::Along | Contact::AtAPoint) => ScheduleCase::OnDrainAssessed,
        (Assessed::Hectares(_), Contact::None) => ScheduleCase::AssessedNotTouching,
        (Assessed::NotListed, Contact::Along | Contact::AtAPoint) if drains_there => ScheduleCase::OnDrainNotAssessed,
        (Assessed::NotListed, Contact::None) if drains_there => ScheduleCase::DrainingNotAssessed,
        (Assessed::BenefitOnly, _) => ScheduleCase::AssessedForBenefitOnly,
        (Assessed::NotListed | Assessed::NotSupplied, _) => return None,
    };
    let first_met = |claims: &[Claim]| claims.iter().any(|claim| claim.position == 0 && claim.outlet.feature == drain);
    let direct = facts.shares.iter().zip(claims).filter(|(_, claims)| first_met(claims));
    let mut through: Vec<Land> = Vec::new();
    for LandOnPath { land, .. } in direct.flat_map(|(share, _)| &share.lands) {
        if !through.contains(land) {
            through.push(land.clone());
        }
    }
    Some(ScheduleCheck {
        drain: drain.to_owned(),
        case,
        assessed: assessment.assessed.hectares(),
        draining,
        piped_in,
        within_accuracy: assessment.assessed.hectares().map(|assessed| is_within(measured, assessed, profile)),
        through,
    })
}

fn is_within(measured: Hectares, assessed: Hectares, profile: &Profile) -> bool {
    (measured.hectares() - assessed.hectares()).abs() <= profile.minimums.area_accuracy(assessed).hectares()
}

fn sharing<'a>(drain: &'a str, facts: &'a ParcelFacts) -> impl Iterator<Item = &'a ShareFacts> {
    facts.shares.iter().filter(move |share| meets(&share.outlets, drain))
}

/// Brought by pipe from land whose surface water goes elsewhere.
fn piped_in(drain: &str, facts: &ParcelFacts) -> Hectares {
    let to_drain = facts.piped.iter().filter(|piped| meets(&piped.water.outlets, drain));
    to_drain.fold(Hectares::ZERO, |sum, piped| sum + piped.leaving_watershed())
}

fn meets(outlets: &[OutletOnPath], drain: &str) -> bool {
    outlets.iter().any(|outlet| outlet.feature == drain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{assessed, assessment, at, hectares, meets as met, ontario, parcel, parcels, share};
    use crate::judge;

    /// 20 ha drain to D-07, after crossing parcels where any are named.
    fn check(touching: bool, crossed: &[&str], assessed: Assessed, case: ScheduleCase, within: Option<bool>) {
        let mut facts = parcel(vec![met(share(1, 20.0), "D-07", "municipal_drain", crossed)]);
        facts.frontage.extend(touching.then(|| at(0.0, "D-07", "municipal_drain")));
        facts.assessments = vec![assessment("D-07", assessed)];
        let found = judge(&facts, &ontario()).schedule;
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].case, found[0].within_accuracy), (case, within));
        assert_eq!(found[0].draining, hectares(20.0));
        let through: Vec<Land> = parcels(crossed).into_iter().map(Land::Parcel).collect();
        assert_eq!(found[0].through, through);
    }

    /// 1.4 ha is within the ordinary accuracy of watershed areas: Thorpe-Ellis Drain decision, as summarised in 2010.
    #[test]
    fn assessed_hectares_are_held_against_measured_ones() {
        use ScheduleCase::{AssessedNotTouching, DrainingNotAssessed, OnDrainAssessed, OnDrainNotAssessed};
        check(true, &[], assessed(21.3), OnDrainAssessed, Some(true));
        check(true, &[], assessed(21.5), OnDrainAssessed, Some(false));
        check(true, &[], assessed(12.0), OnDrainAssessed, Some(false));
        check(true, &[], Assessed::NotListed, OnDrainNotAssessed, None);
        check(false, &["101", "102"], assessed(20.0), AssessedNotTouching, Some(true));
        check(false, &["101"], Assessed::NotListed, DrainingNotAssessed, None);
    }

    #[test]
    fn an_assessment_into_another_drain_is_told() {
        let mut facts = parcel(vec![met(share(1, 20.0), "MC", "natural_watercourse", &[])]);
        facts.assessments = vec![assessment("D-07", assessed(8.0)), assessment("D-08", Assessed::NotListed)];
        let found = judge(&facts, &ontario());
        let cases: Vec<ScheduleCase> = found.schedule.iter().map(|check| check.case).collect();
        assert_eq!(cases, [ScheduleCase::AssessedNotDraining]);
        assert!(found.reasons.contains(&crate::Reason::AssessedButDrainingElsewhere));
    }
}
