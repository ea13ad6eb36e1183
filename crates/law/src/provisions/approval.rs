//! Outlets for which every drainage work needs an approval or licence: a right for the parcels that one names.
//!
//! **Tests** whether an approval to drain into the feature names the parcel.
//!
//! **Relies on** statutes under which a drainage work may be built or kept only with an approval, licence or registration
//! (Manitoba: provincial notice; confirmed as to the requirement). No old work is presumed to have one (our choice).
//!
//! **Satisfied**: the licence for the works into Mothwattle Creek names the parcel.
//! **Not satisfied**: the field lies on Mothwattle Creek, and its licence has not been asked for.
//!
//! **Does not decide** which works the approval covers, whether its conditions are kept, whether it has lapsed, or whether
//! water that runs off without any works needs one.

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelFacts, Reason};

pub(super) fn test(class: &Class, feature: &str, facts: &ParcelFacts) -> Outcome {
    let held = facts.membership_of(feature).map(|member| member.names(&facts.parcel));
    let (right, reasons) = match held {
        Some(true) => (Right::Whole, Vec::new()),
        Some(false) => (Right::No, vec![Reason::ApprovalNotHeld]),
        None => (Right::No, vec![Reason::ApprovalNotSupplied]),
    };
    Outcome {
        right,
        reasons,
        evidence: vec![class.evidence(feature, Observation::ApprovalNamesParcel(held == Some(true)))],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{class_of, member, parcel};

    fn check(named: Option<bool>, right: Right, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.members = named.map(|named| member("MC", named, None)).into_iter().collect();
        let outcome = test(&class_of("manitoba", "natural_watercourse"), "MC", &facts);
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (right, reasons));
    }

    #[test]
    fn satisfied_by_an_approval_that_names_the_parcel() {
        check(Some(true), Right::Whole, &[]);
    }

    #[test]
    fn not_satisfied_without_one() {
        check(Some(false), Right::No, &[Reason::ApprovalNotHeld]);
        check(None, Right::No, &[Reason::ApprovalNotSupplied]);
    }
}
