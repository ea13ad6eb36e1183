//! Whether a parcel touches a mapped feature, and how far the lot lines' accuracy leaves that in doubt.
//!
//! A feature no farther than the abut tolerance touches the parcel. Where its distance is within the boundary accuracy
//! of the tolerance, on either side, the answer is in doubt. A feature mapped on the parcel itself (distance 0) is never
//! in doubt (our choice, no source).

use crate::{Class, Evidence, Frontage, ParcelFacts, Reason};

pub(crate) fn touches(feature: &str, facts: &ParcelFacts) -> bool {
    facts.frontage_on(feature).is_some_and(|frontage| frontage.distance <= facts.abut_tolerance)
}

/// The doubt about whether the feature touches the parcel, if any.
pub(super) fn doubt(feature: &str, facts: &ParcelFacts) -> Vec<Reason> {
    let Some(frontage) = facts.frontage_on(feature) else { return Vec::new() };
    let (distance, tolerance) = (frontage.distance.metres(), facts.abut_tolerance.metres());
    let accuracy = facts.boundary_accuracy.metres();
    let in_band = distance > 0.0 && distance > tolerance - accuracy && distance <= tolerance + accuracy;
    match (in_band, distance <= tolerance) {
        (false, _) => Vec::new(),
        (true, true) => vec![Reason::FrontageWithinBoundaryAccuracy],
        (true, false) => vec![Reason::FrontageWithinBoundaryAccuracy, Reason::FrontageJustBeyondTolerance],
    }
}

/// Distance and length of the frontage, if any.
pub(super) fn evidence(class: &Class, feature: &str, facts: &ParcelFacts) -> Vec<Evidence> {
    let measure = |frontage: &Frontage| {
        vec![
            class.measured(feature, "distance_to_parcel", frontage.distance.metres(), "m"),
            class.measured(feature, "frontage_length", frontage.length.metres(), "m"),
        ]
    };
    facts.frontage_on(feature).map(measure).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::example::{at, metres, parcel};

    /// Tolerance 2 m.
    fn check(distance: f64, accuracy: f64, touching: bool, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        facts.boundary_accuracy = metres(accuracy);
        facts.frontage = vec![at(distance, "MC", "natural_watercourse")];
        assert_eq!(touches("MC", &facts), touching, "{distance} m");
        assert_eq!(doubt("MC", &facts), reasons, "{distance} m");
    }

    #[test]
    fn the_doubt_band_lies_on_both_sides_of_the_tolerance() {
        use Reason::{FrontageJustBeyondTolerance as Beyond, FrontageWithinBoundaryAccuracy as Within};
        check(0.0, 1.0, true, &[]);
        check(0.0, 5.0, true, &[]);
        check(1.0, 1.0, true, &[]);
        check(1.1, 1.0, true, &[Within]);
        check(2.0, 1.0, true, &[Within]);
        check(2.1, 1.0, false, &[Within, Beyond]);
        check(3.0, 1.0, false, &[Within, Beyond]);
        check(3.1, 1.0, false, &[]);
    }

    #[test]
    fn a_feature_not_listed_does_not_touch() {
        assert!(!touches("MC", &parcel(vec![])));
        assert_eq!(doubt("MC", &parcel(vec![])), []);
    }
}
