//! Assessed hectares handed out to the shares that drain to a drain.

use std::collections::BTreeMap;

use fallwright_units::Hectares;

use crate::provisions::Right;
use crate::share::Claim;
use crate::{Profile, ShareFacts};

/// Hectares below which a difference is one of rounding.
const ROUNDING_HA: f64 = 1e-9;

/// What is left of each drain's assessed hectares. Shares are served in the order of the facts.
///
/// Where the shares together exceed the assessed hectares by no more than the smaller of the profile's `excess_ha` and
/// `excess_fraction` of the assessed ones, nothing is in excess.
pub(crate) struct Allotment<'a> {
    left: BTreeMap<&'a str, f64>,
}

impl<'a> Allotment<'a> {
    pub(crate) fn new(shares: &[(&ShareFacts, &'a [Claim<'a>])], profile: &Profile) -> Self {
        let mut drains = BTreeMap::<&str, (f64, f64)>::new();
        for (share, claims) in shares {
            for claim in claims.iter().take_while(|claim| claim.outcome.right != Right::Whole) {
                if let Right::UpTo(assessed) = claim.outcome.right {
                    let drain = drains.entry(&claim.outlet.feature).or_insert((assessed.hectares(), 0.0));
                    drain.1 += share.hectares.hectares();
                }
            }
        }
        let left = |(assessed, draining): (f64, f64)| {
            let accuracy = (assessed * profile.minimums.excess_fraction.value).min(profile.minimums.excess_ha.value);
            if draining - assessed > accuracy + ROUNDING_HA { assessed } else { f64::INFINITY }
        };
        Self { left: drains.into_iter().map(|(drain, hectares)| (drain, left(hectares))).collect() }
    }

    /// Serves one share: the hectares that each claim covers, and last those that none covers. At least one entry.
    pub(crate) fn serve(
        &mut self,
        hectares: Hectares,
        claims: &'a [Claim<'a>],
    ) -> Vec<(Option<&'a Claim<'a>>, Hectares)> {
        let (mut rest, mut served) = (hectares, Vec::new());
        for claim in claims {
            let taken = self.take(rest, claim);
            if taken > Hectares::ZERO || claim.outcome.right == Right::Whole {
                served.push((Some(claim), taken));
                rest = rest - taken;
            }
            if rest == Hectares::ZERO && !served.is_empty() {
                return served;
            }
        }
        served.push((None, rest));
        served
    }

    fn take(&mut self, wanted: Hectares, claim: &Claim) -> Hectares {
        match claim.outcome.right {
            Right::No => Hectares::ZERO,
            Right::Whole => wanted,
            Right::UpTo(_) => {
                let left = self.left.get_mut(claim.outlet.feature.as_str()).expect("every claim was counted");
                if *left <= ROUNDING_HA {
                    return Hectares::ZERO;
                }
                let all = wanted.hectares() <= *left + ROUNDING_HA;
                let taken = if all { wanted } else { Hectares::from_hectares(*left).expect("less than wanted") };
                *left = (*left - taken.hectares()).max(0.0);
                taken
            }
        }
    }
}
