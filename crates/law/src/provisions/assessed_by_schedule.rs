//! Municipal drains: a right for the hectares that the drain's current schedule assesses.
//!
//! **Tests** whether the drain that the share's path meets lies on or touches the parcel, and what its schedule says. A
//! drain whose upper end lies at the lot line touches the parcel: drains are brought to a lot line to give it an outlet
//! (common practice, no source).
//!
//! **Relies on** a municipal drain being an accepted outlet for land within its assessed watershed (ontario.ca, Mutual
//! agreements and drainage works; confirmed) and on land that does not abut buying its outlet through outlet liability
//! assessments (Factsheet 55, August 1990; confirmed). Without a schedule the right is presumed (our choice).
//!
//! **Satisfied**: the drain crosses the field, and its schedule assesses the field for 18 ha.
//! **Not satisfied**: the drain crosses the field, and its schedule does not list the field.
//!
//! **Does not decide** whether the assessment is for outlet or for benefit only, whether the schedule is the by-law in
//! force, which hectares of the parcel are the assessed ones, or whether the drain can carry the water.

use fallwright_units::Hectares;

use super::{Outcome, Right, touch};
use crate::{Class, Evidence, ParcelFacts, Reason};

pub(super) fn test(class: &Class, drain: &str, facts: &ParcelFacts) -> Outcome {
    use Reason::{AssessedButNotTouching, DrainNotTouching, NotInSchedule, ScheduleNotSupplied};
    let assessed = facts.assessment_in(drain).map(|assessment| assessment.hectares);
    let (right, reasons): (_, &[Reason]) = match (assessed, touch::touches(drain, facts)) {
        (Some(Some(hectares)), true) => (Right::UpTo(hectares), &[]),
        (Some(Some(_)), false) => (Right::No, &[AssessedButNotTouching]),
        (Some(None), true) => (Right::No, &[NotInSchedule]),
        (Some(None), false) => (Right::No, &[NotInSchedule, DrainNotTouching]),
        (None, true) => (Right::Whole, &[ScheduleNotSupplied]),
        (None, false) => (Right::No, &[ScheduleNotSupplied, DrainNotTouching]),
    };
    // Where the schedule does not list the parcel, touching the drain would not give the right either.
    let doubt = if assessed == Some(None) { Vec::new() } else { touch::doubt(drain, facts) };
    let mut evidence = touch::evidence(class, drain, facts);
    evidence.extend(assessed.map(|assessed| schedule_evidence(class, drain, assessed)));
    Outcome { right, reasons: [reasons, &doubt].concat(), evidence }
}

fn schedule_evidence(class: &Class, drain: &str, assessed: Option<Hectares>) -> Evidence {
    match assessed {
        Some(hectares) => class.measured(drain, "assessed_hectares", hectares.hectares(), "ha"),
        None => class.found(drain, "listed_in_schedule", false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Value;
    use crate::example::Schedule::{self, Assesses, NotListed, NotSupplied};
    use crate::example::{at, class, hectares, parcel, schedule};

    fn outcome(distance: Option<f64>, says: Schedule) -> Outcome {
        let mut facts = parcel(vec![]);
        facts.frontage.extend(distance.map(|distance| at(distance, "D-07", "municipal_drain")));
        facts.assessments = schedule("D-07", says);
        test(&class("municipal_drain"), "D-07", &facts)
    }

    fn check(distance: Option<f64>, says: Schedule, right: Right, reasons: &[Reason]) {
        let outcome = outcome(distance, says);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_on_the_drain_and_assessed() {
        check(Some(0.0), Assesses(18.0), Right::UpTo(hectares(18.0)), &[]);
    }

    #[test]
    fn not_satisfied_on_the_drain_and_not_listed() {
        check(Some(0.0), NotListed, Right::No, &[Reason::NotInSchedule]);
        check(Some(1.5), NotListed, Right::No, &[Reason::NotInSchedule]);
    }

    #[test]
    fn a_schedule_that_is_not_supplied_leaves_a_doubt() {
        check(Some(0.0), NotSupplied, Right::Whole, &[Reason::ScheduleNotSupplied]);
        check(None, NotSupplied, Right::No, &[Reason::ScheduleNotSupplied, Reason::DrainNotTouching]);
    }

    #[test]
    fn an_assessment_gives_no_way_across_neighbours() {
        check(None, Assesses(18.0), Right::No, &[Reason::AssessedButNotTouching]);
        check(None, NotListed, Right::No, &[Reason::NotInSchedule, Reason::DrainNotTouching]);
    }

    #[test]
    fn the_assessed_hectares_are_evidence() {
        let evidence = outcome(Some(0.0), Assesses(18.0)).evidence;
        let assessed = evidence.iter().find(|evidence| evidence.measure == "assessed_hectares").unwrap();
        assert_eq!((&assessed.value, assessed.unit), (&Value::Number(18.0), Some("ha")));
    }
}
