//! Award drains: a right limited to the lands that the award names.
//!
//! **Tests** whether the award names the parcel, and whether the drain is seen to lead on to an outlet that does not itself
//! rest on an agreement or award.
//!
//! **Relies on** an award drain being no surface water but a drain made under statute (ontario.ca, Drainage conflict:
//! surface water; confirmed); that its use is limited to the lands it names, whoever owns them, is from memory (not
//! confirmed). Unlike an agreement it needs no registration on title for that (from memory).
//!
//! **Satisfied**: the Oak Lane award names the parcel, though its owner has changed since.
//! **Not satisfied**: the water runs into the Oak Lane award drain, whose award names other lands.
//!
//! **Does not decide** whether the award still stands or was taken over by a municipal drain, which water it covers, or
//! whether the drain's own outlet is sufficient.

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelFacts, Reason};

pub(super) fn test(class: &Class, drain: &str, leads_on: bool, facts: &ParcelFacts) -> Outcome {
    let Some(member) = facts.membership_of(drain) else {
        return Outcome { right: Right::No, reasons: vec![Reason::PartiesNotSupplied], evidence: Vec::new() };
    };
    let is_named = member.names(&facts.parcel);
    let evidence = vec![class.evidence(drain, Observation::NamedInAward(is_named))];
    let (right, reason) = match (is_named, leads_on) {
        (false, _) => (Right::No, Some(Reason::NotNamedParty)),
        (true, true) => (Right::Whole, None),
        (true, false) => (Right::Whole, Some(Reason::AgreementDrainWithoutOutlet)),
    };
    Outcome { right, reasons: reason.into_iter().collect(), evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{class, member, parcel};

    fn check(named: Option<bool>, leads_on: bool, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.members = named.map(|named| member("OL", named, None)).into_iter().collect();
        let outcome = test(&class("award_drain"), "OL", leads_on, &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_by_land_that_the_award_names() {
        check(Some(true), true, Right::Whole, &[]);
        check(Some(true), false, Right::Whole, &[Reason::AgreementDrainWithoutOutlet]);
    }

    #[test]
    fn not_satisfied_by_other_land() {
        check(Some(false), true, Right::No, &[Reason::NotNamedParty]);
        check(None, true, Right::No, &[Reason::PartiesNotSupplied]);
    }
}
