//! What was measured and found.

use fallwright_units::Metres;

use crate::profile::Sourced;
use crate::provisions::touches;
use crate::share::{Claim, Piece, on_the_way};
use crate::{Evidence, Frontage, Measure, ParcelFacts, Profile, Provision, Reason, ShareFacts, Value};

/// Evidence of all shares, each item once: the outlets that concern the parcel, the other features met, the state of the
/// path where it raises a doubt, frontage to which no water goes, missing elevation.
pub(crate) fn evidence(
    facts: &ParcelFacts,
    claims: &[Vec<Claim>],
    pieces: &[&Piece],
    profile: &Profile,
) -> Vec<Evidence> {
    let mut all = Vec::new();
    for (share, claims) in facts.shares.iter().zip(claims) {
        let mut concerning: Vec<_> = claims.iter().filter(|claim| claim.concerns(share, facts)).collect();
        concerning.sort_by_key(|claim| claim.position);
        all.extend(concerning.into_iter().flat_map(of_claim));
        all.extend(of_features_met(share, facts, profile));
    }
    all.extend(pieces.iter().flat_map(|piece| of_path(piece, profile)));
    all.extend(draining_hectares(facts, claims));
    all.extend(facts.frontage_without_flow(profile).filter_map(|frontage| of_frontage_without_flow(frontage, profile)));
    all.extend(of_missing_elevation(facts, profile));
    let mut once: Vec<Evidence> = Vec::new();
    for item in all {
        if !once.contains(&item) {
            once.push(item);
        }
    }
    once
}

/// What the provision says, and which other features run in the same channel.
fn of_claim(claim: &Claim) -> Vec<Evidence> {
    let same = claim.outlet.same_channel_as.iter();
    let same = same.map(|other| claim.class.named(&claim.outlet.feature, Measure::SameChannelAs, other));
    claim.outcome.evidence.iter().cloned().chain(same).collect()
}

fn of_features_met(share: &ShareFacts, facts: &ParcelFacts, profile: &Profile) -> Vec<Evidence> {
    let outcomes = share.also_met.iter().filter_map(|met| on_the_way(met, facts, profile));
    outcomes.flat_map(|outcome| outcome.evidence).collect()
}

fn of_path(piece: &Piece, profile: &Profile) -> Vec<Evidence> {
    let share = piece.share;
    let mut evidence = Vec::new();
    if let Some(channel) = share.marked_channel {
        let test = &profile.unmapped_channel;
        let hectares = channel.hectares.hectares();
        evidence.push(number("unmapped_channel", &test.contributing_ha, Measure::ContributingArea, hectares));
        evidence.push(number("unmapped_channel", &test.depth_m, Measure::ChannelDepth, channel.depth.metres()));
    }
    if piece.reasons.contains(&Reason::PathCrossesFilledGround) {
        let filled = &profile.minimums.filled_m;
        evidence.push(number("filled_m", filled, Measure::DeepestFill, share.deepest_fill.metres()));
    }
    for (reason, measure, level) in [
        (Reason::DivideWithinElevationAccuracy, Measure::DivideHeight, share.divide_height),
        (Reason::FallWithinElevationAccuracy, Measure::Fall, share.fall),
    ] {
        if let (true, Some(level)) = (piece.reasons.contains(&reason), level) {
            evidence.push(of_level(share, measure, level));
        }
    }
    evidence
}

fn of_level(share: &ShareFacts, measure: Measure, level: Metres) -> Evidence {
    Evidence {
        rule: "elevation_accuracy".to_owned(),
        source: "twice the standard error of the difference of two independent heights".to_owned(),
        feature: share.outlets.first().map(|outlet| outlet.feature.clone()),
        measure,
        value: Value::Number(level.metres()),
    }
}

/// For each drain that assesses hectares, how many of the parcel drain to it.
fn draining_hectares(facts: &ParcelFacts, claims: &[Vec<Claim>]) -> Vec<Evidence> {
    let assessed = facts.assessments.iter().filter(|assessment| assessment.assessed.hectares().is_some());
    let of_drain = assessed.filter_map(|assessment| {
        let meets = |claim: &&Claim| claim.outlet.feature == assessment.drain;
        let met: Vec<_> = claims
            .iter()
            .zip(&facts.shares)
            .filter_map(|(claims, share)| Some((claims.iter().find(meets)?, share)))
            .collect();
        let class = met.first()?.0.class;
        let hectares = met.iter().map(|(_, share)| share.hectares.hectares()).sum();
        Some(class.measured(&assessment.drain, Measure::DrainingHectares, hectares))
    });
    of_drain.collect()
}

fn of_frontage_without_flow(frontage: &Frontage, profile: &Profile) -> Option<Evidence> {
    let class = profile.class(&frontage.class)?;
    Some(class.measured(&frontage.feature, Measure::FrontageLengthWithoutFlow, frontage.length.metres()))
}

fn of_missing_elevation(facts: &ParcelFacts, profile: &Profile) -> Option<Evidence> {
    let missing = facts.missing_ha.hectares();
    let rule = &profile.minimums.missing_elevation_ha;
    (missing > 0.0).then(|| number("missing_elevation_ha", rule, Measure::MissingElevation, missing))
}

fn number(rule: &str, test: &Sourced, measure: Measure, value: f64) -> Evidence {
    let source = test.source.clone();
    Evidence { rule: rule.to_owned(), source, feature: None, measure, value: Value::Number(value) }
}

impl ParcelFacts {
    /// Watercourses that the parcel fronts on and that none of its water meets.
    pub(crate) fn frontage_without_flow<'a>(&'a self, profile: &'a Profile) -> impl Iterator<Item = &'a Frontage> {
        let met = |feature: &str| {
            self.shares.iter().any(|share| share.outlets.iter().any(|outlet| outlet.feature == feature))
        };
        let by_frontage =
            |class: &str| profile.class(class).is_some_and(|class| class.provision == Provision::Frontage);
        self.frontage.iter().filter(move |frontage| {
            touches(&frontage.feature, self)
                && !frontage.at_a_point
                && by_frontage(&frontage.class)
                && !met(&frontage.feature)
        })
    }
}
