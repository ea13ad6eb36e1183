//! One condition put on one roll: what counts, for how much, and whose signatures it takes.

use std::collections::BTreeSet;

use super::roll::{OwnerIx, Roll, RollLand};
use super::rule::{Denominator, HeadRule, PetitionCondition};

/// How the hectares of roads are taken where the law does not say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reading {
    WithRoads,
    WithoutRoads,
}

impl Reading {
    pub const BOTH: [Self; 2] = [Self::WithRoads, Self::WithoutRoads];
}

/// A condition on a roll: signed is what all members of an item have signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Count {
    pub items: Vec<Item>,
    /// Heads or square metres.
    pub whole: u64,
    pub needed: u64,
}

/// A head, or a land by its square metres.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// All must sign; none where nobody can.
    pub members: Vec<OwnerIx>,
    pub weight: u64,
}

impl Item {
    pub(super) fn is_signed(&self, signed: &BTreeSet<OwnerIx>) -> bool {
        !self.members.is_empty() && self.members.iter().all(|member| signed.contains(member))
    }
}

impl Count {
    /// *Complexity*: O(n log n) for n lands.
    pub fn of(condition: PetitionCondition, roll: &Roll, reading: Reading) -> Self {
        let items = match condition.of {
            Denominator::Owners(rule) => heads(roll, rule, false),
            Denominator::OwnersAndRoadAuthorities(rule) => heads(roll, rule, true),
            Denominator::Land => hectares(roll, |land| !land.is_road()),
            Denominator::LandAndRoads => hectares(roll, |_| true),
            Denominator::LandAndPerhapsRoads => hectares(roll, |land| !land.is_road() || reading == Reading::WithRoads),
        };
        let whole = items.iter().map(|item| item.weight).sum();
        Self { items, whole, needed: condition.requirement.needed(whole) }
    }

    /// Heads or square metres that have signed.
    pub fn have(&self, signed: &BTreeSet<OwnerIx>) -> u64 {
        self.items.iter().filter(|item| item.is_signed(signed)).map(|item| item.weight).sum()
    }

    pub fn is_met(&self, signed: &BTreeSet<OwnerIx>) -> bool {
        self.have(signed) >= self.needed
    }
}

fn hectares(roll: &Roll, counts: impl Fn(&RollLand) -> bool) -> Vec<Item> {
    let lands = roll.lands.iter().filter(|land| counts(land));
    lands.map(|land| Item { members: land.owners.clone(), weight: land.square_metres }).collect()
}

/// A parcel without owners is a head that nobody can sign for; an authority of several roads is one head.
fn heads(roll: &Roll, rule: HeadRule, with_roads: bool) -> Vec<Item> {
    let parcels = || roll.lands.iter().filter(|land| !land.is_road());
    let nobodys = parcels().filter(|land| land.owners.is_empty()).map(|_| Vec::new());
    let authorities: BTreeSet<Vec<OwnerIx>> =
        roll.lands.iter().filter(|land| with_roads && land.is_road()).map(|land| land.owners.clone()).collect();
    let owned = || parcels().filter(|land| !land.owners.is_empty());
    let members: Vec<Vec<OwnerIx>> = match rule {
        HeadRule::RecordOwner => {
            let persons: BTreeSet<Vec<OwnerIx>> =
                owned().flat_map(|land| &land.owners).map(|&owner| vec![owner]).collect();
            nobodys.chain(persons.union(&authorities).cloned()).collect()
        }
        HeadRule::OwnershipUnit => {
            let units: BTreeSet<Vec<OwnerIx>> = owned().map(|land| land.owners.clone()).collect();
            nobodys.chain(units.union(&authorities).cloned()).collect()
        }
        HeadRule::Parcel => nobodys.chain(owned().map(|land| land.owners.clone())).chain(authorities).collect(),
    };
    members.into_iter().map(|members| Item { members, weight: 1 }).collect()
}
