//! Private ditches and pipes: they give nobody a right of drainage.
//!
//! **Tests** nothing: that the water meets such a feature is reported, and the path goes on.
//!
//! **Relies on** the water of private ditches and pipes being surface water in law, not a watercourse (ontario.ca,
//! Drainage conflict: surface water; confirmed).
//!
//! **Satisfied**: never.
//! **Not satisfied**: the water runs along a neighbour's ditch.
//!
//! **Does not decide** whether long use has made a right (a prescriptive right is for a court), or whether an unwritten
//! agreement stands behind the ditch.

use super::{Outcome, Right};
use crate::{Class, Observation, Reason};

pub(super) fn test(class: &Class, feature: &str) -> Outcome {
    let evidence = vec![class.evidence(feature, Observation::ConfersARight(false))];
    Outcome { right: Right::No, reasons: vec![Reason::ConfersNoRight], evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::class;

    #[test]
    fn a_neighbours_ditch_gives_no_right() {
        let outcome = test(&class("private_ditch"), "P-3");
        assert_eq!((outcome.right, outcome.reasons), (Right::No, vec![Reason::ConfersNoRight]));
    }
}
