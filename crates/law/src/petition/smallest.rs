//! The smallest sets of owners that meet or break counts, exactly.

use std::collections::{BTreeMap, BTreeSet};

use super::count::Count;
use super::frontier::{GroupOption, TooMany, smallest_choice, unsurpassed};
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
    /// Where it is not, a smaller set may exist: the owners own too much together to search through all sets.
    pub is_proven: bool,
}

impl Program {
    /// *Method*: a bound from below, the owners that each goal needs at least if every owner brings a full share; a set by taking the
    /// owners with the largest shares. Where they differ in size, a search over all choices that no other surpasses. All
    /// sums are of whole numbers.
    fn smallest(mut self) -> Option<Smallest> {
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
        Some(match self.search(&owners, best.len()) {
            Ok(smaller) => Smallest { owners: smaller.unwrap_or(best), is_proven: true },
            Err(TooMany) => Smallest { owners: best, is_proven: false },
        })
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

    /// The smallest set with fewer than `below` owners; `Ok(None)` where there is none.
    fn search(&self, owners: &BTreeSet<OwnerIx>, below: usize) -> Result<Option<BTreeSet<OwnerIx>>, TooMany> {
        let groups = self.groups(owners);
        let options = groups.iter().map(|group| self.options(group)).collect::<Result<Vec<_>, TooMany>>()?;
        let needed: Vec<u64> = self.goals.iter().map(|goal| goal.needed).collect();
        let chosen = smallest_choice(&options, &needed, below)?;
        let named = |(group, members): (usize, u32)| {
            groups[group].iter().enumerate().filter(move |(bit, _)| members >> bit & 1 == 1).map(|(_, &owner)| owner)
        };
        Ok(chosen.map(|chosen| chosen.into_iter().flat_map(named).collect()))
    }

    /// Owners who share a piece are in one group, directly or through others.
    fn groups(&self, owners: &BTreeSet<OwnerIx>) -> Vec<Vec<OwnerIx>> {
        let mut first: BTreeMap<OwnerIx, OwnerIx> = owners.iter().map(|&owner| (owner, owner)).collect();
        for (piece, _) in self.goals.iter().flat_map(|goal| &goal.pieces) {
            let heads: BTreeSet<OwnerIx> = piece.iter().map(|owner| first[owner]).collect();
            let Some(&head) = heads.first() else { continue };
            first.values_mut().filter(|own| heads.contains(own)).for_each(|own| *own = head);
        }
        let mut groups: BTreeMap<OwnerIx, Vec<OwnerIx>> = BTreeMap::new();
        for (owner, head) in first {
            groups.entry(head).or_default().push(owner);
        }
        groups.into_values().collect()
    }

    /// Every set of a group's owners that no other of the same size surpasses.
    fn options(&self, group: &[OwnerIx]) -> Result<Vec<GroupOption>, TooMany> {
        /// Of more owners there are too many sets (our choice).
        const MOST_OWNERS: usize = 16;
        if group.len() > MOST_OWNERS {
            return Err(TooMany);
        }
        let bit = |owner: &OwnerIx| group.binary_search(owner).map_or(0, |position| 1_u32 << position);
        let of_group = |goal: &Goal| -> Vec<(u32, u64)> {
            let own = goal.pieces.iter().map(|(owners, weight)| (owners.iter().map(bit).sum(), *weight));
            own.filter(|&(mask, _)| mask != 0).collect()
        };
        let pieces: Vec<Vec<(u32, u64)>> = self.goals.iter().map(of_group).collect();
        let is_taken = |mask: u32, members: u32| match self.takes {
            Takes::All => members & mask == mask,
            Takes::Any => members & mask != 0,
        };
        let option = |members: u32| {
            let weight = |pieces: &Vec<(u32, u64)>| {
                pieces.iter().filter(|&&(mask, _)| is_taken(mask, members)).map(|&(_, weight)| weight).sum()
            };
            GroupOption { members, weights: pieces.iter().map(weight).collect() }
        };
        Ok(unsurpassed((0..1 << group.len()).map(option)))
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
