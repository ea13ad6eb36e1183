//! Municipal drains: a right for the hectares that the drain's current schedule assesses.
//!
//! **Tests** whether the drain that the share's path meets lies on or touches the parcel, and what its schedule says. A
//! drain whose upper end lies at the lot line touches the parcel: drains are brought to a lot line to give it an outlet
//! (common practice, no source).
//!
//! **Relies on** a municipal drain being an accepted outlet for land within its assessed watershed (ontario.ca, Mutual
//! agreements and drainage works; confirmed) and on land that does not abut buying its outlet through outlet liability
//! assessments (Factsheet 55, August 1990; confirmed). Without a schedule, land on the drain is presumed assessed, and
//! whether other land of the drain's watershed is stays open (our choice). That an assessment for benefit alone gives no
//! outlet is from memory; whether it carries outlet as well is for the municipality to say.
//!
//! **Satisfied**: the drain crosses the field, and its schedule assesses the field for 18 ha.
//! **Not satisfied**: the drain crosses the field, and its schedule does not list the field.
//!
//! **Does not decide** whether the schedule is the by-law in force, which hectares of the parcel are the assessed ones, or whether the drain can carry the water.

use super::touch::{self, Contact, contact};
use super::{Outcome, Right};
use crate::{Assessed, Class, Evidence, Observation, ParcelFacts, Reason};

pub(super) fn test(class: &Class, drain: &str, facts: &ParcelFacts) -> Outcome {
    let (assessed, contact) = (facts.assessed_in(drain), contact(drain, facts));
    let (right, mut reasons) = right(assessed, contact);
    if !matches!(assessed, Assessed::NotListed | Assessed::BenefitOnly) {
        // Where the schedule does not list the parcel, contact with the drain would give no right either.
        reasons.extend(touch::doubt(drain, facts));
    }
    let mut evidence = touch::evidence(class, drain, facts);
    evidence.extend(schedule_evidence(class, drain, assessed));
    Outcome { right, reasons, evidence }
}

fn right(assessed: Assessed, contact: Contact) -> (Right, Vec<Reason>) {
    use Reason::{
        AssessedButNotTouching, AssessedForBenefitOnly, DrainNotTouching, NotInSchedule, ScheduleNotSupplied,
    };
    match (assessed, contact) {
        (Assessed::Hectares(hectares), Contact::Along | Contact::AtAPoint) => (Right::UpTo(hectares), vec![]),
        (Assessed::Hectares(_), Contact::None) => (Right::No, vec![AssessedButNotTouching]),
        (Assessed::NotListed, Contact::Along | Contact::AtAPoint) => (Right::No, vec![NotInSchedule]),
        (Assessed::NotListed, Contact::None) => (Right::No, vec![NotInSchedule, DrainNotTouching]),
        (Assessed::NotSupplied, Contact::Along | Contact::AtAPoint) => (Right::Whole, vec![ScheduleNotSupplied]),
        (Assessed::NotSupplied, Contact::None) => (Right::Open, vec![ScheduleNotSupplied, DrainNotTouching]),
        (Assessed::BenefitOnly, Contact::Along | Contact::AtAPoint) => (Right::Open, vec![AssessedForBenefitOnly]),
        (Assessed::BenefitOnly, Contact::None) => (Right::Open, vec![AssessedForBenefitOnly, DrainNotTouching]),
    }
}

fn schedule_evidence(class: &Class, drain: &str, assessed: Assessed) -> Option<Evidence> {
    match assessed {
        Assessed::Hectares(hectares) => Some(class.evidence(drain, Observation::AssessedHectares(hectares))),
        Assessed::NotListed => Some(class.evidence(drain, Observation::ListedInSchedule(false))),
        Assessed::BenefitOnly => Some(class.evidence(drain, Observation::AssessedForBenefitOnly(true))),
        Assessed::NotSupplied => None,
    }
}

#[cfg(test)]
mod tests {
    use Assessed::{BenefitOnly, NotListed, NotSupplied};

    use super::*;
    use crate::Frontage;
    use crate::example::{assessed, assessment, at, class, hectares, parcel};

    /// The drain's distance to the parcel, metres; `None` where it is not near.
    fn outcome(distance: Option<f64>, assessed: Assessed) -> Outcome {
        let mut facts = parcel(vec![]);
        facts.frontage.extend(distance.map(|distance| at(distance, "D-07", "municipal_drain")));
        facts.assessments = vec![assessment("D-07", assessed)];
        test(&class("municipal_drain"), "D-07", &facts)
    }

    fn check(distance: Option<f64>, assessed: Assessed, right: Right, reasons: &[Reason]) {
        let outcome = outcome(distance, assessed);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_on_the_drain_and_assessed() {
        check(Some(0.0), assessed(18.0), Right::UpTo(hectares(18.0)), &[]);
    }

    #[test]
    fn satisfied_where_the_drain_ends_at_the_lot_line() {
        let mut facts = parcel(vec![]);
        facts.frontage = vec![Frontage { at_a_point: true, ..at(0.0, "D-07", "municipal_drain") }];
        facts.assessments = vec![assessment("D-07", assessed(18.0))];
        assert_eq!(test(&class("municipal_drain"), "D-07", &facts).right, Right::UpTo(hectares(18.0)));
    }

    #[test]
    fn not_satisfied_on_the_drain_and_not_listed() {
        check(Some(0.0), NotListed, Right::No, &[Reason::NotInSchedule]);
        check(Some(1.5), NotListed, Right::No, &[Reason::NotInSchedule]);
    }

    #[test]
    fn a_schedule_that_is_not_supplied_leaves_a_doubt() {
        check(Some(0.0), NotSupplied, Right::Whole, &[Reason::ScheduleNotSupplied]);
        check(None, NotSupplied, Right::Open, &[Reason::ScheduleNotSupplied, Reason::DrainNotTouching]);
    }

    #[test]
    fn an_assessment_for_benefit_alone_leaves_open_whether_it_carries_outlet() {
        check(Some(0.0), BenefitOnly, Right::Open, &[Reason::AssessedForBenefitOnly]);
        check(None, BenefitOnly, Right::Open, &[Reason::AssessedForBenefitOnly, Reason::DrainNotTouching]);
    }

    #[test]
    fn a_drain_without_an_entry_has_no_schedule_supplied() {
        let mut facts = parcel(vec![]);
        facts.assessments = vec![assessment("D-08", assessed(18.0))];
        let outcome = test(&class("municipal_drain"), "D-07", &facts);
        assert_eq!(outcome.reasons, [Reason::ScheduleNotSupplied, Reason::DrainNotTouching]);
    }

    #[test]
    fn an_assessment_gives_no_way_across_neighbours() {
        check(None, assessed(18.0), Right::No, &[Reason::AssessedButNotTouching]);
        check(None, NotListed, Right::No, &[Reason::NotInSchedule, Reason::DrainNotTouching]);
    }

    #[test]
    fn the_assessed_hectares_are_evidence() {
        let evidence = outcome(Some(0.0), assessed(18.0)).evidence;
        let assessed = Observation::AssessedHectares(hectares(18.0));
        assert!(evidence.iter().any(|item| item.observation == assessed), "{evidence:?}");
    }
}
