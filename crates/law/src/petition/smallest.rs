//! The smallest sets of owners that meet or break counts: small integer programs, recounted exactly.

use std::collections::{BTreeMap, BTreeSet};

use good_lp::{Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable};

use super::count::Count;
use super::roll::OwnerIx;

/// A count with the signatures that it rests on.
pub(super) type Signed<'a> = (&'a Count, &'a BTreeSet<OwnerIx>);

/// The fewest further signatures with which every count is met; `None` where not even all are enough.
pub(super) fn fewest_to_meet(counts: &[Signed]) -> Option<Smallest> {
    let goals = counts.iter().map(|(count, signed)| {
        let open = count.items.iter().filter(|item| !item.members.is_empty() && !item.is_signed(signed));
        let pieces = open.map(|item| {
            let missing = item.members.iter().filter(|member| !signed.contains(member)).copied().collect();
            (missing, item.weight)
        });
        Goal { pieces: pieces.collect(), needed: count.needed.saturating_sub(count.have(signed)) }
    });
    Program { takes: Takes::All, goals: goals.collect() }.smallest()
}

/// The fewest withdrawals after which no count is met any more; `None` where not even all are enough.
pub(super) fn fewest_to_break(counts: &[Signed]) -> Option<Smallest> {
    let goals = counts.iter().map(|(count, signed)| {
        let counted = count.items.iter().filter(|item| item.is_signed(signed));
        let pieces = counted.map(|item| (item.members.clone(), item.weight)).collect();
        Goal { pieces, needed: (count.have(signed) + 1).saturating_sub(count.needed) }
    });
    Program { takes: Takes::Any, goals: goals.collect() }.smallest()
}

/// Which owners of a piece it takes to have the piece.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Takes {
    All,
    Any,
}

/// Pieces of at least a weight.
struct Goal {
    pieces: Vec<(Vec<OwnerIx>, u64)>,
    needed: u64,
}

struct Program {
    takes: Takes,
    goals: Vec<Goal>,
}

/// A set of owners, and whether no smaller one does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Smallest {
    pub owners: BTreeSet<OwnerIx>,
    /// Where it is not, a smaller set may exist: too many owners are left to search through.
    pub is_proven: bool,
}

impl Program {
    /// *Method*: a bound from below, the owners that each goal needs at least if every owner brings a full share; a set by taking the
    /// owners with the largest shares. Where they differ in size, an integer program with 0/1 variables for owners looks for
    /// smaller sets by branch and bound, with a tolerance that lets too much through rather than too little; a set that
    /// fails the exact recount is forbidden by a cut and the search goes on.
    fn smallest(mut self) -> Option<Smallest> {
        /// With more owners and a gap between bound and set, the search may take hours (our choice).
        const SEARCHED: usize = 60;
        self.goals.retain(|goal| goal.needed > 0);
        let owners: BTreeSet<OwnerIx> =
            self.goals.iter().flat_map(|goal| &goal.pieces).flat_map(|(owners, _)| owners).copied().collect();
        if !self.is_met(&owners) {
            return None;
        }
        let shares: Vec<BTreeMap<OwnerIx, f64>> = self.goals.iter().map(|goal| self.shares(goal)).collect();
        let least = self.goals.iter().zip(&shares).map(|(goal, shares)| least_owners(goal, shares)).max().unwrap_or(0);
        let taken = shares.iter().map(|shares| self.by_shares(&owners, shares));
        let best = taken.min_by_key(BTreeSet::len).unwrap_or_default();
        if best.len() <= least {
            return Some(Smallest { owners: best, is_proven: true });
        }
        if owners.len() > SEARCHED {
            return Some(Smallest { owners: best, is_proven: false });
        }
        let smaller = self.search(&owners, (least, best.len() - 1));
        Some(Smallest { owners: smaller.unwrap_or(best), is_proven: true })
    }

    /// What each owner brings to a goal at most: of a piece that takes all its owners an equal share, so that no set brings
    /// less than it has; of one that takes any, the whole.
    fn shares(&self, goal: &Goal) -> BTreeMap<OwnerIx, f64> {
        let mut shares = BTreeMap::new();
        for (owners, weight) in &goal.pieces {
            let parts = if self.takes == Takes::All { owners.len() } else { 1 };
            for &owner in owners {
                *shares.entry(owner).or_insert(0.0) += *weight as f64 / parts as f64;
            }
        }
        shares
    }

    /// Owners with the largest shares first until every goal is met, then without those who are not needed.
    fn by_shares(&self, owners: &BTreeSet<OwnerIx>, shares: &BTreeMap<OwnerIx, f64>) -> BTreeSet<OwnerIx> {
        let share = |owner: &OwnerIx| shares.get(owner).copied().unwrap_or(0.0);
        let mut order: Vec<OwnerIx> = owners.iter().copied().collect();
        order.sort_by(|one, other| share(other).total_cmp(&share(one)));
        let (mut fewer, mut enough) = (0, order.len());
        while fewer < enough {
            let middle = usize::midpoint(fewer, enough);
            if self.is_met(&order[..middle].iter().copied().collect()) { enough = middle } else { fewer = middle + 1 }
        }
        let mut chosen: BTreeSet<OwnerIx> = order[..enough].iter().copied().collect();
        for owner in order[..enough].iter().rev() {
            chosen.remove(owner);
            if !self.is_met(&chosen) {
                chosen.insert(*owner);
            }
        }
        chosen
    }

    /// The smallest set of a size within the bounds; `None` where there is none.
    fn search(&self, owners: &BTreeSet<OwnerIx>, sizes: (usize, usize)) -> Option<BTreeSet<OwnerIx>> {
        let mut refused: Vec<BTreeSet<OwnerIx>> = Vec::new();
        loop {
            let found = self.solve(owners, sizes, &refused)?;
            if self.is_met(&found) {
                return Some(found);
            }
            refused.push(found);
        }
    }

    /// The recount in whole numbers.
    fn is_met(&self, chosen: &BTreeSet<OwnerIx>) -> bool {
        let is_taken = |owners: &[OwnerIx]| match self.takes {
            Takes::All => owners.iter().all(|owner| chosen.contains(owner)),
            Takes::Any => owners.iter().any(|owner| chosen.contains(owner)),
        };
        self.goals.iter().all(|goal| {
            let taken = goal.pieces.iter().filter(|(owners, _)| is_taken(owners));
            taken.map(|&(_, weight)| weight).sum::<u64>() >= goal.needed
        })
    }

    fn solve(
        &self,
        owners: &BTreeSet<OwnerIx>,
        (least, most): (usize, usize),
        refused: &[BTreeSet<OwnerIx>],
    ) -> Option<BTreeSet<OwnerIx>> {
        /// Of what is needed; smaller differences are left to the recount.
        const TOLERANCE: f64 = 1e-6;
        let mut variables = ProblemVariables::new();
        let chosen: BTreeMap<OwnerIx, Variable> =
            owners.iter().map(|&owner| (owner, variables.add(variable().binary()))).collect();
        let mut limits = Vec::new();
        for goal in &self.goals {
            let mut taken = Expression::default();
            for (owners, weight) in &goal.pieces {
                let piece = self.piece(owners, &chosen, &mut variables, &mut limits);
                taken.add_mul(*weight as f64 / goal.needed as f64, piece);
            }
            limits.push(constraint!(taken >= 1.0 - TOLERANCE));
        }
        for set in refused {
            let other: Expression = chosen
                .iter()
                .map(|(owner, &owner_signs)| if set.contains(owner) { 1.0 - owner_signs } else { owner_signs.into() })
                .sum();
            limits.push(constraint!(other >= 1.0));
        }
        let size: Expression = chosen.values().sum();
        limits.push(constraint!(size.clone() >= least as f64));
        limits.push(constraint!(size.clone() <= most as f64));
        let solution = variables.minimise(size).using(microlp).with_all(limits).solve().ok()?;
        Some(chosen.into_iter().filter(|&(_, is)| solution.value(is) > 0.5).map(|(owner, _)| owner).collect())
    }

    /// The variable of a piece: that of its owner, or one that its owners limit.
    fn piece(
        &self,
        owners: &[OwnerIx],
        chosen: &BTreeMap<OwnerIx, Variable>,
        variables: &mut ProblemVariables,
        limits: &mut Vec<good_lp::Constraint>,
    ) -> Variable {
        if let [owner] = owners {
            return chosen[owner];
        }
        let piece = variables.add(variable().min(0.0).max(1.0));
        match self.takes {
            Takes::All => limits.extend(owners.iter().map(|owner| constraint!(piece <= chosen[owner]))),
            Takes::Any => {
                let any: Expression = owners.iter().map(|owner| chosen[owner]).sum();
                limits.push(constraint!(piece <= any));
            }
        }
        piece
    }
}

/// The fewest owners who can bring what a goal needs if each brings the share.
fn least_owners(goal: &Goal, shares: &BTreeMap<OwnerIx, f64>) -> usize {
    /// Of what is needed, for the rounding of sums.
    const TOLERANCE: f64 = 1e-9;
    let mut sizes: Vec<f64> = shares.values().copied().collect();
    sizes.sort_by(|one, other| other.total_cmp(one));
    let enough = goal.needed as f64 * (1.0 - TOLERANCE);
    let sums = sizes.iter().scan(0.0, |sum, share| {
        *sum += share;
        Some(*sum)
    });
    1 + sums.take_while(|&sum| sum < enough).count()
}
