//! The finding on piped water: which outlets below a pipe give a right to it, and what becomes of the rest.
//!
//! Piped water is led water. What a provision says of surface water is narrowed for it (see [`narrow`]), and hectares assessed
//! into a drain serve it after the surface water.
//!
//! *Source*: collected water may not be cast on a neighbour and must be taken to a sufficient outlet (Ostrom v. Sills, 1897, as
//! quoted in Drainage Contractor, 3 November 2018); land may be drained into a natural watercourse in whose watershed it lies
//! (ontario.ca, Drainage conflict: natural watercourses). That a pipe under another's land needs his agreement is common
//! practice, no source.

use fallwright_units::Hectares;

use crate::allotment::Allotment;
use crate::provisions::{Outcome, Right, touches};
use crate::share::{Claim, Origin, Piece, claims_on, doubts_on_path};
use crate::{
    Class, Observation, OutletOnPath, ParcelFacts, PipedFacts, PipedFinding, PipedPart, Profile, Provision, Reason,
};

/// One part of a pipe's water with the claims that it has.
#[derive(Debug)]
pub(crate) struct PipedClaims<'a> {
    pub(crate) piped: &'a PipedFacts,
    pub(crate) part: &'a PipedPart,
    pub(crate) claims: Vec<Claim<'a>>,
}

/// The claims of every part of all piped water, in the order of the facts.
pub(crate) fn piped_claims<'a>(facts: &'a ParcelFacts, profile: &'a Profile) -> Vec<PipedClaims<'a>> {
    let parts = facts.piped.iter().flat_map(|piped| piped.parts.iter().map(move |part| (piped, part)));
    let claims = |(piped, part): (&'a PipedFacts, &'a PipedPart)| {
        let mut claims = claims_on(&piped.water.outlets, facts, profile);
        for claim in &mut claims {
            let lies_in_watershed = !part.leaves_watershed || part.meets(&claim.outlet.feature, facts);
            narrow(&mut claim.outcome, claim.class, claim.outlet, (piped, lies_in_watershed), facts);
        }
        PipedClaims { piped, part, claims }
    };
    parts.map(claims).collect()
}

/// What of an outcome holds for piped water.
///
/// A right by frontage, or by the rule of natural flow, needs land in the watercourse's watershed and a pipe that reaches the
/// watercourse before its water runs open on another's land. Natural flow excuses no way across others: there the pipe must
/// reach the watercourse on the bank of the parcel itself.
fn narrow(
    outcome: &mut Outcome,
    class: &Class,
    outlet: &OutletOnPath,
    (piped, lies_in_watershed): (&PipedFacts, bool),
    facts: &ParcelFacts,
) {
    let is_natural_flow = class.provision == Provision::NaturalFlow;
    if is_natural_flow {
        outcome.reasons.retain(|&reason| reason != Reason::NaturalFlowOverNeighbour);
        outcome.evidence = vec![class.evidence(&outlet.feature, Observation::ReachedByNaturalFlow(false))];
    }
    if !is_natural_flow && class.provision != Provision::Frontage {
        return;
    }
    let by_own_bank = outlet.crossed_before.is_empty() && touches(&outlet.feature, facts);
    if is_natural_flow && !by_own_bank {
        outcome.right = Right::No;
        outcome.reasons.push(Reason::PipedWaterIsLed);
    }
    if piped.open_on.is_some() || !lies_in_watershed {
        outcome.right = Right::No;
    }
}

/// The pieces of all piped water. Hectares whose surface water goes to the same drain are counted with that; those that leave
/// their watershed count beside the surface shares, after them.
pub(crate) fn piped_pieces<'a>(
    piped: &'a [PipedClaims<'a>],
    surface: &[(Hectares, &'a [Claim<'a>])],
    facts: &'a ParcelFacts,
    profile: &Profile,
) -> Vec<Piece<'a>> {
    let leaving = piped.iter().filter(|water| water.part.leaves_watershed);
    let counted: Vec<_> =
        surface.iter().copied().chain(leaving.map(|water| (water.part.hectares, water.claims.as_slice()))).collect();
    let mut beside_surface = Allotment::new(&counted, profile);
    for &(hectares, claims) in surface {
        beside_surface.serve(hectares, claims);
    }
    let staying = piped.iter().filter(|water| !water.part.leaves_watershed);
    let staying: Vec<_> = staying.map(|water| (water.part.hectares, water.claims.as_slice())).collect();
    let mut with_surface = Allotment::new(&staying, profile);
    let mut pieces = Vec::new();
    for water in piped {
        let (hectares, claims) = (water.part.hectares, water.claims.as_slice());
        let allotment = if water.part.leaves_watershed { &mut beside_surface } else { &mut with_surface };
        for (claim, served) in allotment.serve(hectares, claims) {
            let exceeds = claim.is_some_and(|claim| allotment.exceeds_within_accuracy(&claim.outlet.feature));
            let mut piece = piece(water, claim, facts, profile);
            piece.hectares = served;
            piece.reasons.extend(exceeds.then_some(Reason::ExceedsWithinAccuracy));
            let doubts = doubts_on_path(&piece, facts, profile);
            piece.reasons.extend(doubts);
            pieces.push(piece);
        }
    }
    pieces
}

fn piece<'a>(
    PipedClaims { piped, part, claims }: &'a PipedClaims<'a>,
    claim: Option<&'a Claim<'a>>,
    facts: &ParcelFacts,
    profile: &Profile,
) -> Piece<'a> {
    let origin = Origin::Piped { piped, part };
    match claim {
        Some(claim) => Piece::with_right(origin, &piped.water, claims, claim, facts, profile),
        None => Piece::without_right(origin, &piped.water, claims, facts, profile),
    }
}

/// The same where the parcel is undecided as a whole.
pub(crate) fn undecided_piped<'a>(piped: &'a [PipedClaims<'a>], reason: Reason) -> Vec<Piece<'a>> {
    let undecided = |PipedClaims { piped, part, claims }: &'a PipedClaims<'a>| {
        let piece = Piece::undecided(Origin::Piped { piped, part }, &piped.water, claims, reason);
        Piece { hectares: part.hectares, ..piece }
    };
    piped.iter().map(undecided).collect()
}

/// One finding for all pieces of a pipe that are found alike, whether they leave their watershed or not.
pub(crate) fn piped_findings(pieces: &[Piece]) -> Vec<PipedFinding> {
    let mut findings: Vec<PipedFinding> = Vec::new();
    for found in pieces.iter().filter_map(piped_finding) {
        match findings.iter_mut().find(|known| known.is_alike(&found)) {
            Some(known) => known.take_in(found),
            None => findings.push(found),
        }
    }
    findings
}

fn piped_finding(piece: &Piece) -> Option<PipedFinding> {
    let Origin::Piped { piped, part } = piece.origin else { return None };
    let PipedFacts { pipe, water, .. } = piped;
    Some(PipedFinding {
        pipe: pipe.clone(),
        hectares: piece.hectares,
        leaving_watershed: if part.leaves_watershed { piece.hectares } else { Hectares::ZERO },
        standing: piece.standing,
        outlet: water.outlets.first().map(|outlet| outlet.feature.clone()),
        basis: piece.basis.map(|claim| claim.class.id.clone()),
        basis_feature: piece.basis.map(|claim| claim.outlet.feature.clone()),
        reasons: piece.sorted_reasons(),
        confidence: piece.confidence(),
        lands: water.lands.clone(),
        path: water.path,
        end: water.end,
    })
}

impl PipedFinding {
    fn is_alike(&self, other: &Self) -> bool {
        let Self { pipe, standing, basis, basis_feature, .. } = self;
        (pipe, standing, basis, basis_feature) == (&other.pipe, &other.standing, &other.basis, &other.basis_feature)
            && self.other_reasons().eq(other.other_reasons())
    }

    fn other_reasons(&self) -> impl Iterator<Item = &Reason> {
        self.reasons.iter().filter(|reason| **reason != Reason::PipedOutOfWatershed)
    }

    fn take_in(&mut self, other: Self) {
        self.hectares = self.hectares + other.hectares;
        self.leaving_watershed = self.leaving_watershed + other.leaving_watershed;
        self.reasons.extend(other.reasons);
        self.reasons.sort_unstable();
        self.reasons.dedup();
    }
}

impl PipedPart {
    /// Whether the surface water of the part meets an outlet, however far down.
    fn meets(&self, feature: &str, facts: &ParcelFacts) -> bool {
        let share = facts.shares.iter().find(|share| Some(share.share) == self.share);
        share.is_some_and(|share| share.outlets.iter().any(|outlet| outlet.feature == feature))
    }
}

impl PipedFacts {
    pub(crate) fn leaving_watershed(&self) -> Hectares {
        let leaving = self.parts.iter().filter(|part| part.leaves_watershed);
        leaving.fold(Hectares::ZERO, |sum, part| sum + part.hectares)
    }

    /// What the way of the pipe asks of neighbours, and whether its water stays in its watershed.
    pub(crate) fn reasons(&self, part: &PipedPart) -> impl Iterator<Item = Reason> {
        [
            (!self.under.is_empty()).then_some(Reason::PipedUnderNeighbour),
            self.open_on.is_some().then_some(Reason::CollectedWaterOnNeighbour),
            part.leaves_watershed.then_some(Reason::PipedOutOfWatershed),
        ]
        .into_iter()
        .flatten()
    }
}

#[cfg(test)]
#[path = "piped_tests.rs"]
mod tests;
