//! Where the water of piped land goes, and whether the parcel has a right there.

use crate::share::claims_on;
use crate::{ParcelFacts, PipedFacts, PipedFinding, Profile};

/// Piped water is counted where the pipe takes it. Its right is that of the outlets below the pipe; hectares assessed into a
/// drain are not shared out between surface and pipe.
pub(crate) fn piped_finding(piped: &PipedFacts, facts: &ParcelFacts, profile: &Profile) -> PipedFinding {
    let claims = claims_on(&piped.outlets, facts, profile);
    let basis = claims.iter().find(|claim| claim.gives_right());
    PipedFinding {
        pipe: piped.pipe.clone(),
        hectares: piped.hectares,
        leaving_watershed: piped.leaving_watershed,
        outlet: piped.outlets.first().map(|outlet| outlet.feature.clone()),
        basis: basis.map(|claim| claim.class.id.clone()),
    }
}
