//! The smallest sets of owners that meet or break counts: small integer programs, recounted exactly.

use std::collections::{BTreeMap, BTreeSet};

use good_lp::{Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable};

use super::count::Count;
use super::roll::OwnerIx;

/// A count with the signatures that it rests on.
pub(super) type Signed<'a> = (&'a Count, &'a BTreeSet<OwnerIx>);

/// The fewest further signatures with which every count is met; `None` where not even all are enough.
pub(super) fn fewest_to_meet(counts: &[Signed]) -> Option<BTreeSet<OwnerIx>> {
    let goals = counts.iter().map(|(count, signed)| {
        let open = count.items.iter().filter(|item| !item.members.is_empty() && !item.is_signed(signed));
        let pieces = open.map(|item| {
            let missing = item.members.iter().filter(|member| !signed.contains(member)).copied().collect();
            (missing, item.weight)
        });
        Goal { pieces: pieces.collect(), needed: count.needed.saturating_sub(count.have(signed)) }
    });
    Program { takes: Takes::All, goals: goals.collect() }.fewest()
}

/// The fewest withdrawals after which no count is met any more; `None` where not even all are enough.
pub(super) fn fewest_to_break(counts: &[Signed]) -> Option<BTreeSet<OwnerIx>> {
    let goals = counts.iter().map(|(count, signed)| {
        let counted = count.items.iter().filter(|item| item.is_signed(signed));
        let pieces = counted.map(|item| (item.members.clone(), item.weight)).collect();
        Goal { pieces, needed: (count.have(signed) + 1).saturating_sub(count.needed) }
    });
    Program { takes: Takes::Any, goals: goals.collect() }.fewest()
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

impl Program {
    /// *Method*: 0/1 variables for owners, solved by branch and bound with a tolerance that lets too much through rather than
    /// too little; a set that fails the exact recount is forbidden by a cut and the search goes on, so that the first set that
    /// passes is smallest.
    fn fewest(mut self) -> Option<BTreeSet<OwnerIx>> {
        self.goals.retain(|goal| goal.needed > 0);
        let owners: BTreeSet<OwnerIx> =
            self.goals.iter().flat_map(|goal| &goal.pieces).flat_map(|(owners, _)| owners).copied().collect();
        if !self.is_met(&owners) {
            return None;
        }
        if self.goals.is_empty() {
            return Some(BTreeSet::new());
        }
        let mut refused: Vec<BTreeSet<OwnerIx>> = Vec::new();
        loop {
            let found = self.solve(&owners, &refused)?;
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

    fn solve(&self, owners: &BTreeSet<OwnerIx>, refused: &[BTreeSet<OwnerIx>]) -> Option<BTreeSet<OwnerIx>> {
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
        let fewest: Expression = chosen.values().sum();
        let solution = variables.minimise(fewest).using(microlp).with_all(limits).solve().ok()?;
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
