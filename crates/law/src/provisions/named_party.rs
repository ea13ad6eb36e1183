//! Mutual agreement drains and award drains: a right for the parcels that the agreement or award names.
//!
//! **Tests** whether the parcel is named, whether the agreement is registered on title, and whether the drain is seen to
//! lead on to an outlet that does not itself rest on an agreement.
//!
//! **Relies on** section 2 of the Drainage Act for agreements: registered on title they bind later owners, otherwise only
//! those who signed (ontario.ca, Mutual agreements and drainage works; confirmed). That an award's use is limited to the
//! lands it names is from memory (not confirmed).
//!
//! **Satisfied**: the Oak Lane agreement names the parcel and is registered on title.
//! **Not satisfied**: the water runs into the Oak Lane drain, whose agreement names other parcels only.
//!
//! **Does not decide** whether the agreement is valid, who signed it, which water it covers, whether it gives the way
//! across the parcels between, or whether the drain's own outlet is sufficient. Parties that are not supplied give no
//! right, since none can be shown (our choice).

use super::{Outcome, Right};
use crate::{Class, ParcelFacts, Reason};

pub(super) fn test(class: &Class, drain: &str, leads_on: bool, facts: &ParcelFacts) -> Outcome {
    let Some(member) = facts.membership_of(drain) else {
        return Outcome { right: Right::No, reasons: vec![Reason::PartiesNotSupplied], evidence: Vec::new() };
    };
    let mut evidence = vec![class.found(drain, "named_party", member.is_named)];
    if !member.is_named {
        return Outcome { right: Right::No, reasons: vec![Reason::NotNamedParty], evidence };
    }
    let mut reasons = Vec::new();
    if member.registered != Some(true) {
        reasons.push(Reason::AgreementNotRegistered);
    }
    if !leads_on {
        reasons.push(Reason::AgreementDrainWithoutOutlet);
    }
    evidence.extend(member.registered.map(|registered| class.found(drain, "registered_on_title", registered)));
    Outcome { right: Right::Whole, reasons, evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{class, member, parcel};

    fn check(named: bool, registered: Option<bool>, leads_on: bool, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.members = vec![member("OL", named, registered)];
        let outcome = test(&class("mutual_agreement_drain"), "OL", leads_on, &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_by_a_registered_party() {
        check(true, Some(true), true, Right::Whole, &[]);
    }

    #[test]
    fn not_satisfied_by_a_stranger() {
        check(false, Some(true), true, Right::No, &[Reason::NotNamedParty]);
    }

    #[test]
    fn registration_not_shown_leaves_a_doubt() {
        check(true, Some(false), true, Right::Whole, &[Reason::AgreementNotRegistered]);
        check(true, None, true, Right::Whole, &[Reason::AgreementNotRegistered]);
    }

    #[test]
    fn a_drain_that_leads_nowhere_leaves_a_doubt() {
        check(true, Some(true), false, Right::Whole, &[Reason::AgreementDrainWithoutOutlet]);
    }

    #[test]
    fn parties_not_supplied_give_no_right() {
        let mut facts = parcel(vec![]);
        facts.members = vec![member("another", true, Some(true))];
        let outcome = test(&class("award_drain"), "OL", true, &facts);
        assert_eq!((outcome.right, outcome.reasons), (Right::No, vec![Reason::PartiesNotSupplied]));
    }
}
