//! Outlets that need an approval and the written permission of every parcel on the way: a right for the parcels that hold
//! both.
//!
//! **Tests** whether the approval to drain into the feature names the parcel, and whether it names every parcel that the
//! water crosses before, which is how their written permission is shown.
//!
//! **Relies on** Saskatchewan's rule that every drainage work needs an approval, none excepted for its age, and that land
//! control, a written permission, is held for every parcel to the outlet (wsask.ca; confirmed).
//!
//! **Satisfied**: the approval names the field and the two parcels between it and Mothwattle Creek.
//! **Not satisfied**: the approval names the field and only one of the two.
//!
//! **Does not decide** how long a permission holds, whether it binds later owners, or what the approval's conditions are.

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelFacts, ParcelId, Reason};

pub(super) fn test(class: &Class, feature: &str, crossed: &[ParcelId], facts: &ParcelFacts) -> Outcome {
    let mut outcome = super::approval::test(class, feature, facts);
    let Some(member) = facts.membership_of(feature) else { return outcome };
    let missing: Vec<&ParcelId> = crossed.iter().filter(|parcel| !member.names(parcel)).collect();
    if !missing.is_empty() {
        outcome.right = Right::No;
        outcome.reasons.push(Reason::PermissionsMissing);
    }
    outcome.evidence.extend(
        missing.into_iter().map(|parcel| class.evidence(feature, Observation::NoPermissionFrom(parcel.clone()))),
    );
    outcome
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Membership;
    use crate::example::{class_of, member, parcel, parcels};

    fn check(named: &[&str], crossed: &[&str], right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.members = [Membership { parties: parcels(named), ..member("MC", false, None) }].into();
        let outcome = test(&class_of("saskatchewan", "natural_watercourse"), "MC", &parcels(crossed), &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_where_everyone_on_the_way_is_named() {
        check(&["100", "101", "102"], &["101", "102"], Right::Whole, &[]);
        check(&["100"], &[], Right::Whole, &[]);
    }

    #[test]
    fn not_satisfied_where_one_is_missing() {
        check(&["100", "101"], &["101", "102"], Right::No, &[Reason::PermissionsMissing]);
        check(&["101", "102"], &["101", "102"], Right::No, &[Reason::ApprovalNotHeld]);
    }
}
