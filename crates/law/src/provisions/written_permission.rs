//! Road ditches: use by the road authority's written permission, never a right.
//!
//! **Tests** whether a written permission names the parcel.
//!
//! **Relies on** a road ditch being an outlet only with the road authority's permission, best in writing (Drainage
//! Contractor, 8 November 2016; confirmed). That permission can be withdrawn is from memory (not confirmed).
//!
//! **Satisfied**: the township has written that the parcel may drain into the ditch of its road; the finding says that
//! the permission is held, and still gives no right.
//! **Not satisfied**: the water runs along the road ditch, and nobody has asked.
//!
//! **Does not decide** what the permission covers, whether it still stands, or where the road ditch leads.

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelFacts, Reason};

pub(super) fn test(class: &Class, ditch: &str, facts: &ParcelFacts) -> Outcome {
    let held = facts.membership_of(ditch).is_some_and(|member| member.names(&facts.parcel));
    let reason = if held { Reason::RoadPermissionIsRevocable } else { Reason::RoadDitchIsNoOutlet };
    let evidence = vec![class.evidence(ditch, Observation::WrittenPermission(held))];
    Outcome { right: Right::No, reasons: vec![reason], evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{class, member, parcel};

    fn check(named: Option<bool>, reason: Reason) {
        let mut facts = parcel(vec![]);
        facts.members = named.map(|named| member("R-2", named, None)).into_iter().collect();
        let outcome = test(&class("road_ditch"), "R-2", &facts);
        assert_eq!((outcome.right, outcome.reasons), (Right::No, vec![reason]));
    }

    #[test]
    fn satisfied_by_a_permission_that_names_the_parcel_without_a_right() {
        check(Some(true), Reason::RoadPermissionIsRevocable);
    }

    #[test]
    fn not_satisfied_without_permission() {
        check(None, Reason::RoadDitchIsNoOutlet);
        check(Some(false), Reason::RoadDitchIsNoOutlet);
    }
}
