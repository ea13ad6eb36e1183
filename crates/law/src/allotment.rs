//! Assessed hectares handed out to the shares that drain to a drain.

use std::collections::BTreeMap;

use fallwright_units::Hectares;

use crate::provisions::Right;
use crate::share::Claim;
use crate::{Excess, NamedOutlet, Profile};

/// Hectares below which a difference is one of rounding.
const ROUNDING_HA: f64 = 1e-9;

/// What is left of each drain's assessed hectares. Shares are served in the order of the facts.
///
/// Where the shares together exceed the assessed hectares by no more than the accuracy of watershed areas, all of them are
/// served.
pub(crate) struct Allotment<'a> {
    drains: BTreeMap<&'a str, Assessed>,
}

struct Assessed {
    excess: Excess,
    left: f64,
}

impl<'a> Allotment<'a> {
    /// `demands` are the hectares of each share with its claims.
    pub(crate) fn new(demands: &[(Hectares, &'a [Claim<'a>])], profile: &Profile) -> Self {
        let mut drains = BTreeMap::<&str, Assessed>::new();
        for &(hectares, claims) in demands {
            let deciding = claims.iter().filter(|claim| claim.decides);
            for claim in deciding.take_while(|claim| claim.outcome.right != Right::Whole) {
                if let Right::UpTo(assessed) = claim.outcome.right {
                    let drain = drains.entry(&claim.outlet.feature).or_insert_with(|| Assessed {
                        excess: Excess {
                            drain: NamedOutlet::of(claim.outlet),
                            assessed,
                            draining: Hectares::ZERO,
                            accuracy: profile.minimums.area_accuracy(assessed),
                        },
                        left: assessed.hectares(),
                    });
                    drain.excess.draining = drain.excess.draining + hectares;
                }
            }
        }
        for drain in drains.values_mut().filter(|drain| !drain.excess.counts()) {
            drain.left = f64::INFINITY;
        }
        Self { drains }
    }

    /// Drains to which more hectares drain than are assessed, in the order of their ids.
    pub(crate) fn excesses(self) -> Vec<Excess> {
        let excesses = self.drains.into_values().map(|drain| drain.excess);
        excesses.filter(|excess| excess.hectares().hectares() > ROUNDING_HA).collect()
    }

    /// Whether more hectares drain to the drain than are assessed, by no more than the accuracy of watershed areas.
    pub(crate) fn exceeds_within_accuracy(&self, drain: &str) -> bool {
        let excess = self.drains.get(drain).map(|drain| &drain.excess);
        excess.is_some_and(|excess| excess.hectares().hectares() > ROUNDING_HA && !excess.counts())
    }

    /// Serves one share: the hectares that each claim covers, and last those that none covers. At least one entry.
    pub(crate) fn serve(
        &mut self,
        hectares: Hectares,
        claims: &'a [Claim<'a>],
    ) -> Vec<(Option<&'a Claim<'a>>, Hectares)> {
        let (mut rest, mut served) = (hectares, Vec::new());
        for claim in claims.iter().filter(|claim| claim.decides) {
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
            Right::No | Right::Open => Hectares::ZERO,
            Right::Whole => wanted,
            Right::UpTo(_) => {
                let left =
                    &mut self.drains.get_mut(claim.outlet.feature.as_str()).expect("every claim was counted").left;
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

impl Excess {
    /// Beyond the assessed hectares; none where fewer drain there.
    pub fn hectares(&self) -> Hectares {
        if self.draining > self.assessed { self.draining - self.assessed } else { Hectares::ZERO }
    }

    /// Whether it is more than the accuracy of watershed areas leaves open.
    pub fn counts(&self) -> bool {
        self.hectares().hectares() > self.accuracy.hectares() + ROUNDING_HA
    }
}
