//! Natural watercourses and lakes: a right for land with frontage on them.
//!
//! **Tests** whether the parcel touches the watercourse that the share's path meets, over more than a point and with
//! nothing of others' between. That the path meets it, anywhere downstream, shows that the share lies in its watershed.
//! That a touch at a point is no frontage is our choice: no bank lies on the parcel where its water could be let in.
//!
//! **Relies on** the common law of riparian owners: land that abuts a natural watercourse may be drained into it where it
//! lies in its watershed (ontario.ca, Drainage conflict: natural watercourses; confirmed). That a lake is treated alike is
//! from memory (not confirmed).
//!
//! **Satisfied**: the water of a field ends up in Mothwattle Creek, and the field lies on its bank.
//! **Not satisfied**: the water ends up in Mothwattle Creek, but another parcel, a road allowance or a strip kept back lies
//! between the field and the bank.
//!
//! **Does not decide** whether the feature is a natural watercourse (only a court does), whether the use is reasonable,
//! whether the bank is stable, or how the water gets from where it leaves the parcel to the parcel's own frontage.

use super::touch::{self, Contact, contact};
use super::{Outcome, Right};
use crate::{Class, ParcelFacts, Reason};

pub(super) fn test(class: &Class, feature: &str, facts: &ParcelFacts) -> Outcome {
    let mut reasons = touch::doubt(feature, facts);
    let right = match contact(feature, facts) {
        Contact::Along => Right::Whole,
        Contact::AtAPoint => {
            reasons.extend([Reason::FrontageAtAPoint, Reason::NoFrontage]);
            Right::No
        }
        Contact::None => {
            reasons.push(Reason::NoFrontage);
            Right::No
        }
    };
    Outcome { right, reasons, evidence: touch::evidence(class, feature, facts) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Frontage;
    use crate::example::{at, class, parcel};

    fn check(distance: Option<f64>, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.frontage.extend(distance.map(|distance| at(distance, "MC", "natural_watercourse")));
        let outcome = test(&class("natural_watercourse"), "MC", &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_on_the_bank() {
        check(Some(0.0), Right::Whole, &[]);
    }

    #[test]
    fn not_satisfied_behind_another_parcel() {
        check(None, Right::No, &[Reason::NoFrontage]);
    }

    #[test]
    fn not_satisfied_by_a_touch_at_a_point() {
        let mut facts = parcel(vec![]);
        facts.frontage = vec![Frontage { at_a_point: true, ..at(0.0, "MC", "natural_watercourse") }];
        let outcome = test(&class("natural_watercourse"), "MC", &facts);
        assert_eq!((outcome.right, outcome.reasons), (Right::No, vec![Reason::FrontageAtAPoint, Reason::NoFrontage]));
    }

    #[test]
    fn a_near_miss_is_told() {
        use Reason::{FrontageJustBeyondTolerance, FrontageWithinBoundaryAccuracy, NoFrontage};
        let expected = [FrontageWithinBoundaryAccuracy, FrontageJustBeyondTolerance, NoFrontage];
        check(Some(2.5), Right::No, &expected);
    }
}
