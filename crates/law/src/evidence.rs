//! What was measured and found.

use fallwright_units::{Hectares, Metres};

use crate::piped::PipedClaims;
use crate::provisions::touches;
use crate::share::{Claim, Piece, on_the_way};
use crate::{Evidence, Excess, Frontage, Observation, ParcelFacts, Profile, Provision, Reason, Rule, ShareFacts};

/// Evidence of all shares and of piped water, each item once: the outlets that concern the parcel, the other features met, the state of the
/// path where it raises a doubt, frontage to which no water goes, missing elevation.
pub(crate) fn evidence(
    facts: &ParcelFacts,
    (claims, piped): (&[Vec<Claim>], &[PipedClaims]),
    (pieces, of_parcel): (&[&Piece], &[Reason]),
    excesses: &[Excess],
    profile: &Profile,
) -> Vec<Evidence> {
    let mut all = Vec::new();
    let piped = piped.iter().map(|water| (&water.piped.water, &water.claims));
    for (share, claims) in facts.shares.iter().zip(claims).chain(piped) {
        let mut concerning: Vec<_> = claims.iter().filter(|claim| claim.concerns(share, facts)).collect();
        concerning.sort_by_key(|claim| claim.position);
        all.extend(concerning.into_iter().flat_map(of_claim));
        all.extend(of_features_met(share, facts, profile));
    }
    all.extend(pieces.iter().flat_map(|piece| of_path(piece, facts.cell, profile)));
    all.extend(draining_hectares(facts, claims));
    all.extend(excesses.iter().flat_map(|excess| of_excess(excess, profile)));
    all.extend(facts.frontage_without_flow(profile).filter_map(|frontage| of_frontage_without_flow(frontage, profile)));
    all.extend(of_missing_elevation(facts, profile));
    all.extend(of_parcel.contains(&Reason::CellsLargeAtLotLine).then(|| of_cells_at_line(facts.cell, profile)));
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
    let same = same.map(|other| claim.class.evidence(&claim.outlet.feature, Observation::SameChannelAs(other.clone())));
    claim.outcome.evidence.iter().cloned().chain(same).collect()
}

fn of_features_met(share: &ShareFacts, facts: &ParcelFacts, profile: &Profile) -> Vec<Evidence> {
    let outcomes = share.also_met.iter().filter_map(|met| on_the_way(met, facts, profile));
    outcomes.flat_map(|outcome| outcome.evidence).collect()
}

fn of_path(piece: &Piece, cell: Metres, profile: &Profile) -> Vec<Evidence> {
    let share = piece.share;
    let mut evidence = Vec::new();
    if let Some(channel) = share.marked_channel {
        let test = &profile.unmapped_channel;
        for (number, observation) in [
            (&test.contributing_ha, Observation::ContributingArea(channel.hectares)),
            (&test.depth_m, Observation::ChannelDepth(channel.depth)),
        ] {
            let rule = Rule::UnmappedChannel { source: number.source.clone() };
            evidence.push(Evidence { rule, feature: None, observation });
        }
    }
    if piece.reasons.contains(&Reason::CellsMayHideChannel) {
        evidence.extend(of_hidden_channel(share, cell, profile));
    }
    if piece.reasons.contains(&Reason::PathCrossesFilledGround) {
        evidence.extend(of_filled_ground(share, profile));
    }
    for (reason, observation) in [
        (Reason::PathEndsHigher, share.fall.map(Observation::Fall)),
        (Reason::DivideWithinElevationAccuracy, share.divide_height.map(Observation::DivideHeight)),
        (Reason::FallWithinElevationAccuracy, share.fall.map(Observation::Fall)),
    ] {
        if let (true, Some(observation)) = (piece.reasons.contains(&reason), observation) {
            let feature = share.outlets.first().map(|outlet| outlet.feature.clone());
            evidence.push(Evidence { rule: Rule::ElevationAccuracy, feature, observation });
        }
    }
    evidence
}

/// How much land drains by where the share leaves, and the cells that may not show a channel there.
fn of_hidden_channel(share: &ShareFacts, cell: Metres, profile: &Profile) -> [Evidence; 2] {
    let test = &profile.unmapped_channel;
    [
        (&test.contributing_ha, Observation::ContributingArea(share.leaving_area)),
        (&test.cells_to_bank, Observation::CellSize(cell)),
    ]
    .map(|(number, observation)| {
        let rule = Rule::UnmappedChannel { source: number.source.clone() };
        Evidence { rule, feature: None, observation }
    })
}

/// Cells that are large beside the parcel.
fn of_cells_at_line(cell: Metres, profile: &Profile) -> Evidence {
    let rule = Rule::CellsAcross { source: profile.minimums.cells_across.source.clone() };
    Evidence { rule, feature: None, observation: Observation::CellSize(cell) }
}

/// How deep the path lies in filled ground, and how large and deep all of that is.
fn of_filled_ground(share: &ShareFacts, profile: &Profile) -> Vec<Evidence> {
    let minimums = &profile.minimums;
    let in_metres = || Rule::FilledGround { source: minimums.filled_m.source.clone() };
    let in_hectares = Rule::FilledArea { source: minimums.filled_ha.source.clone() };
    let mut observed = vec![(in_metres(), Observation::DeepestFill(share.deepest_fill))];
    if let Some(filled) = share.filled {
        observed.push((in_hectares, Observation::FilledArea(filled.area)));
        observed.push((in_metres(), Observation::FilledDepth(filled.depth)));
    }
    observed.into_iter().map(|(rule, observation)| Evidence { rule, feature: None, observation }).collect()
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
        let hectares = met.iter().fold(Hectares::ZERO, |sum, (_, share)| sum + share.hectares);
        Some(class.evidence(&assessment.drain, Observation::DrainingHectares(hectares)))
    });
    of_drain.collect()
}

/// Hectares beyond the assessed ones, beside the accuracy of such areas.
fn of_excess(excess: &Excess, profile: &Profile) -> [Evidence; 2] {
    let observations = [Observation::ExcessHectares(excess.hectares()), Observation::AreaAccuracy(excess.accuracy)];
    observations.map(|observation| Evidence {
        rule: Rule::AreaAccuracy { source: profile.minimums.excess_ha.source.clone() },
        feature: Some(excess.drain.feature.clone()),
        observation,
    })
}

fn of_frontage_without_flow(frontage: &Frontage, profile: &Profile) -> Option<Evidence> {
    let class = profile.class(&frontage.class)?;
    Some(class.evidence(&frontage.feature, Observation::FrontageLengthWithoutFlow(frontage.length)))
}

fn of_missing_elevation(facts: &ParcelFacts, profile: &Profile) -> Option<Evidence> {
    let rule = || Rule::MissingElevation { source: profile.minimums.missing_elevation_ha.source.clone() };
    let observation = Observation::MissingElevation(facts.missing_ha);
    (facts.missing_ha > Hectares::ZERO).then(|| Evidence { rule: rule(), feature: None, observation })
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
