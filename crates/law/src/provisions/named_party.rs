//! Mutual agreement drains: a right for the parcels that the agreement names, for as long as it binds.
//!
//! **Tests** whether the parcel is named, whether the agreement is registered on title or the owner has held the parcel
//! since before it was made, and whether the drain is seen to lead on to an outlet that does not itself rest on an
//! agreement or award.
//!
//! **Relies on** section 2 of the Drainage Act: registered on title an agreement binds later owners, otherwise only those
//! who signed (ontario.ca, Mutual agreements and drainage works; confirmed).
//!
//! **Satisfied**: the Oak Lane agreement names the parcel and is registered on title.
//! **Not satisfied**: the agreement names the parcel and is not registered, and the parcel was sold after it was made.
//!
//! **Does not decide** whether the agreement is valid, who signed it, which water it covers, whether it gives the way
//! across the parcels between, whether another party has changed hands since, or whether the drain's own outlet is
//! sufficient. Parties that are not supplied give no right, since none can be shown (our choice).

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelFacts, Reason};

pub(super) fn test(class: &Class, drain: &str, leads_on: bool, facts: &ParcelFacts) -> Outcome {
    let Some(member) = facts.membership_of(drain) else {
        return Outcome { right: Right::No, reasons: vec![Reason::PartiesNotSupplied], evidence: Vec::new() };
    };
    let is_named = member.names(&facts.parcel);
    let mut evidence = vec![class.evidence(drain, Observation::NamedParty(is_named))];
    if !is_named {
        return Outcome { right: Right::No, reasons: vec![Reason::NotNamedParty], evidence };
    }
    evidence
        .extend(member.registered.map(|registered| class.evidence(drain, Observation::RegisteredOnTitle(registered))));
    let is_registered = member.registered == Some(true);
    let changed = facts.owned_since.zip(member.agreed).and_then(|(since, agreed)| since.is_later_than(agreed));
    if let (false, Some(changed)) = (is_registered, changed) {
        evidence.push(class.evidence(drain, Observation::OwnerSinceAgreement(!changed)));
    }
    if !is_registered && changed == Some(true) {
        return Outcome { right: Right::No, reasons: vec![Reason::LaterOwnerNotBound], evidence };
    }
    let reasons = [
        (!is_registered).then_some(Reason::AgreementNotRegistered),
        (!leads_on).then_some(Reason::AgreementDrainWithoutOutlet),
    ];
    Outcome { right: Right::Whole, reasons: reasons.into_iter().flatten().collect(), evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Membership;
    use crate::example::{class, member, parcel};

    fn check(named: bool, registered: Option<bool>, leads_on: bool, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.members = [member("OL", named, registered)].into();
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

    fn check_owner(since: &str, agreed: &str, registered: Option<bool>, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.owned_since = Some(since.parse().unwrap());
        facts.members = [Membership { agreed: Some(agreed.parse().unwrap()), ..member("OL", true, registered) }].into();
        let outcome = test(&class("mutual_agreement_drain"), "OL", true, &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons), "since {since}, agreed {agreed}");
    }

    #[test]
    fn an_agreement_that_is_not_registered_does_not_bind_later_owners() {
        use Reason::{AgreementNotRegistered, LaterOwnerNotBound};
        check_owner("2015", "1998-05-02", Some(false), Right::No, &[LaterOwnerNotBound]);
        check_owner("2015", "1998-05-02", None, Right::No, &[LaterOwnerNotBound]);
        check_owner("2015", "1998-05-02", Some(true), Right::Whole, &[]);
        check_owner("1990-07", "1998-05-02", Some(false), Right::Whole, &[AgreementNotRegistered]);
        check_owner("1998", "1998-05-02", Some(false), Right::Whole, &[AgreementNotRegistered]);
        check_owner("1998-05-02", "1998-05-02", Some(false), Right::Whole, &[AgreementNotRegistered]);
    }

    #[test]
    fn parties_not_supplied_give_no_right() {
        let mut facts = parcel(vec![]);
        facts.members = [member("another", true, Some(true))].into();
        let outcome = test(&class("mutual_agreement_drain"), "OL", true, &facts);
        assert_eq!((outcome.right, outcome.reasons), (Right::No, vec![Reason::PartiesNotSupplied]));
    }
}
