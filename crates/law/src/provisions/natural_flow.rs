//! Natural watercourses where the rule of natural flow holds: a right for all land whose water runs there by itself.
//!
//! **Tests** whether the share's path meets the watercourse; that it does, over whoever's land, is the test.
//!
//! **Relies on** the civil-law rule of surface water, also called the rule of natural flow: lower land must take the water
//! that comes to it naturally from higher land (one of the three doctrines of the United States, beside common enemy and
//! reasonable use: encyclopaedia text; that a given state follows it is for the profile to say and to confirm).
//!
//! **Satisfied**: the water of a field runs over two neighbours into Mothwattle Creek, as it always has.
//! **Not satisfied**: never by a feature that the path meets; water that meets none is judged by where it ends.
//!
//! **Does not decide** whether works have made the flow greater, faster or different from the natural one, which the lower
//! owner need not take; nor whether the feature is a natural watercourse.

use super::{Outcome, Right};
use crate::{Class, Observation, ParcelId, Reason};

pub(super) fn test(class: &Class, feature: &str, crossed: &[ParcelId]) -> Outcome {
    let over_others = (!crossed.is_empty()).then_some(Reason::NaturalFlowOverNeighbour);
    let evidence = vec![class.evidence(feature, Observation::ReachedByNaturalFlow(true))];
    Outcome { right: Right::Whole, reasons: over_others.into_iter().collect(), evidence }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{class_of, parcels};

    fn check(crossed: &[&str], reasons: &[Reason]) {
        let outcome = test(&class_of("iowa", "natural_watercourse"), "MC", &parcels(crossed));
        assert_eq!((outcome.right, outcome.reasons.as_slice()), (Right::Whole, reasons));
    }

    #[test]
    fn satisfied_across_neighbours() {
        check(&["101", "102"], &[Reason::NaturalFlowOverNeighbour]);
        check(&[], &[]);
    }
}
