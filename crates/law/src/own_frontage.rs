//! Whether water that leaves over a neighbour can be led to the parcel's own frontage instead.

use fallwright_units::Metres;

use crate::provisions::touches;
use crate::share::level_doubt;
use crate::{OutletOnPath, ParcelFacts, Profile, ShareFacts};

/// Whether the parcel touches the outlet over more than the profile's least length, and whether the ground there lies below
/// where the share leaves by more than the elevation data leave in doubt. Levels that are not known allow nothing.
pub(crate) fn can_be_led(share: &ShareFacts, outlet: &OutletOnPath, facts: &ParcelFacts, profile: &Profile) -> bool {
    let Some(frontage) = facts.frontage_on(&outlet.feature) else { return false };
    let doubt = facts.elevation_rmse.map_or(Metres::ZERO, level_doubt);
    let falls = frontage.lowest_ground.zip(share.leaving_level).is_some_and(|(there, here)| here - there > doubt);
    touches(&outlet.feature, facts) && frontage.length.metres() > profile.minimums.frontage_m.value && falls
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Frontage;
    use crate::example::{at, meets, metres, ontario, parcel, share};

    /// The share leaves at 102 m over parcel 101; elevations to 0.1 m leave 0.283 m in doubt, and the least length is 5 m.
    fn check(length: f64, lowest_ground: Option<f64>, expected: bool) {
        let mut facts = parcel(vec![meets(share(1, 20.0), "MC", "natural_watercourse", &["101"])]);
        let there = Frontage {
            length: metres(length),
            lowest_ground: lowest_ground.map(metres),
            ..at(0.0, "MC", "natural_watercourse")
        };
        facts.frontage = vec![there];
        let share = &facts.shares[0];
        assert_eq!(can_be_led(share, &share.outlets[0], &facts, &ontario()), expected, "{length} m, {lowest_ground:?}");
    }

    #[test]
    fn length_and_levels_must_allow_it() {
        check(120.0, Some(101.71), true);
        check(120.0, Some(101.72), false);
        check(120.0, Some(103.0), false);
        check(120.0, None, false);
        check(5.0, Some(100.0), false);
        check(5.1, Some(100.0), true);
    }

    #[test]
    fn without_frontage_there_is_nowhere_to_lead_it() {
        let facts = parcel(vec![meets(share(1, 20.0), "MC", "natural_watercourse", &["101"])]);
        let share = &facts.shares[0];
        assert!(!can_be_led(share, &share.outlets[0], &facts, &ontario()));
    }
}
