//! Whether a parcel touches a mapped feature, and how far the lot lines' accuracy leaves that in doubt.
//!
//! A feature no farther than the abut tolerance touches the parcel, unless a strip of others' land or a road lies between:
//! a parcel that one cuts off does not abut (common practice, no source). Where the distance is within the boundary
//! accuracy of the tolerance, on either side, the answer is in doubt, and so it is where the strip is no wider than that
//! accuracy. A feature mapped on the parcel itself (distance 0) is never in doubt (our choice, no source).

use crate::{Class, Evidence, Frontage, Observation, ParcelFacts, Reason};

/// How a parcel touches a feature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Contact {
    /// Over a length of it.
    Along,
    /// At a point, or over so short a length that it cannot be distinguished from one.
    AtAPoint,
    /// Not at all.
    None,
}

pub(crate) fn contact(feature: &str, facts: &ParcelFacts) -> Contact {
    match facts.frontage_on(feature) {
        Some(frontage) if frontage.distance > facts.abut_tolerance || frontage.cut_off_by.is_some() => Contact::None,
        Some(Frontage { at_a_point: true, .. }) => Contact::AtAPoint,
        Some(_) => Contact::Along,
        None => Contact::None,
    }
}

pub(crate) fn touches(feature: &str, facts: &ParcelFacts) -> bool {
    contact(feature, facts) != Contact::None
}

/// The doubt about whether the feature touches the parcel, if any.
pub(super) fn doubt(feature: &str, facts: &ParcelFacts) -> Vec<Reason> {
    let Some(frontage) = facts.frontage_on(feature) else { return Vec::new() };
    let (distance, tolerance) = (frontage.distance.metres(), facts.abut_tolerance.metres());
    let accuracy = facts.boundary_accuracy.metres();
    if let Some(strip) = frontage.cut_off_by.as_ref().filter(|_| distance <= tolerance) {
        let narrow = strip.width <= facts.boundary_accuracy;
        let reasons = [Some(Reason::CutOffFromFeature), narrow.then_some(Reason::FrontageWithinBoundaryAccuracy)];
        return reasons.into_iter().flatten().collect();
    }
    let in_band = distance > 0.0 && distance > tolerance - accuracy && distance <= tolerance + accuracy;
    match (in_band, distance <= tolerance) {
        (false, _) => Vec::new(),
        (true, true) => vec![Reason::FrontageWithinBoundaryAccuracy],
        (true, false) => vec![Reason::FrontageWithinBoundaryAccuracy, Reason::FrontageJustBeyondTolerance],
    }
}

/// Distance and length of the frontage, if any, and what cuts it off.
pub(super) fn evidence(class: &Class, feature: &str, facts: &ParcelFacts) -> Vec<Evidence> {
    let measure = |frontage: &Frontage| {
        let mut evidence = vec![
            class.evidence(feature, Observation::DistanceToParcel(frontage.distance)),
            class.evidence(feature, Observation::FrontageLength(frontage.length)),
        ];
        if let Some(strip) = &frontage.cut_off_by {
            evidence.push(class.evidence(feature, Observation::CutOffBy(strip.land.clone())));
            evidence.push(class.evidence(feature, Observation::WidthBetween(strip.width)));
        }
        evidence
    };
    facts.frontage_on(feature).map(measure).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use fallwright_units::RoadId;

    use super::*;
    use crate::example::{at, metres, parcel};
    use crate::{CutOff, Land};

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

    /// Tolerance and accuracy 2 m, the creek 1.5 m away behind a strip.
    fn check_strip(width: f64, reasons: &[Reason]) {
        let mut facts = parcel(vec![]);
        let cut_off_by = Some(CutOff { land: Land::Road(RoadId::new("R-1")), width: metres(width) });
        facts.frontage = vec![Frontage { cut_off_by, ..at(1.5, "MC", "natural_watercourse") }];
        assert!(!touches("MC", &facts), "{width} m");
        assert_eq!(doubt("MC", &facts), reasons, "{width} m");
    }

    #[test]
    fn a_strip_in_between_cuts_off_and_a_narrow_one_leaves_a_doubt() {
        check_strip(2.5, &[Reason::CutOffFromFeature]);
        check_strip(0.3, &[Reason::CutOffFromFeature, Reason::FrontageWithinBoundaryAccuracy]);
    }

    #[test]
    fn a_feature_not_listed_does_not_touch() {
        assert!(!touches("MC", &parcel(vec![])));
        assert_eq!(doubt("MC", &parcel(vec![])), []);
    }
}
