//! The verdict on a petition, read with and without the hectares of roads.

use std::collections::BTreeSet;

use typed_index_collections::TiVec;

use super::count::{Count, Reading};
use super::roll::{OwnerIx, Roll};
use super::rule::{Denominator, PetitionTest, Withdrawals};

/// Who has signed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Signatures {
    /// Signed at some time.
    pub signed: BTreeSet<OwnerIx>,
    /// Of these, withdrawn since.
    pub withdrawn: BTreeSet<OwnerIx>,
    /// Whether an officer whose signature is enough has signed.
    pub officer: bool,
}

impl Signatures {
    /// The signatures that a test counts.
    pub fn for_test(&self, test: &PetitionTest) -> BTreeSet<OwnerIx> {
        match test.withdrawals {
            Withdrawals::Counted => self.standing(),
            Withdrawals::Ignored => self.signed.clone(),
        }
    }

    /// Those who have signed and not withdrawn.
    pub fn standing(&self) -> BTreeSet<OwnerIx> {
        self.signed.difference(&self.withdrawn).copied().collect()
    }

    /// The same with one owner's signature the other way round.
    #[must_use]
    pub(super) fn toggled(&self, owner: OwnerIx) -> Self {
        let mut toggled = self.clone();
        if self.signed.contains(&owner) && !self.withdrawn.contains(&owner) {
            toggled.withdrawn.insert(owner);
        } else {
            toggled.signed.insert(owner);
            toggled.withdrawn.remove(&owner);
        }
        toggled
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    Valid,
    NotValid,
    /// Whether the hectares of roads count decides, or an officer whose own condition cannot be known here.
    DependsOnRoads,
    Undecided,
}

impl Verdict {
    pub const ALL: [Self; 4] = [Self::Valid, Self::NotValid, Self::DependsOnRoads, Self::Undecided];

    pub const fn code(self) -> &'static str {
        match self {
            Self::Valid => "valid",
            Self::NotValid => "not_valid",
            Self::DependsOnRoads => "depends_on_roads",
            Self::Undecided => "undecided",
        }
    }
}

/// Whether the owners' signatures are enough in each reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Readings {
    pub with_roads: bool,
    pub without_roads: bool,
}

impl Readings {
    pub(super) const fn are_valid(self) -> bool {
        self.with_roads && self.without_roads
    }
}

/// One condition of a test in one reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConditionTally {
    /// Position of the test.
    pub test: usize,
    /// Position of the condition in it.
    pub condition: usize,
    /// `None` where both readings are the same.
    pub reading: Option<Reading>,
    /// Heads or square metres that have signed, of `whole`.
    pub have: u64,
    pub whole: u64,
    pub needed: u64,
}

impl ConditionTally {
    pub const fn is_met(&self) -> bool {
        self.have >= self.needed
    }
}

pub(super) fn counts(test: &PetitionTest, roll: &Roll, reading: Reading) -> Vec<Count> {
    test.all_of.iter().map(|&condition| Count::of(condition, roll, reading)).collect()
}

fn is_met(test: &PetitionTest, roll: &Roll, reading: Reading, signed: &BTreeSet<OwnerIx>) -> bool {
    test.all_of.iter().all(|&condition| Count::of(condition, roll, reading).is_met(signed))
}

/// Whether any test is met in each reading.
pub fn readings(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures) -> Readings {
    let any = |reading| tests.iter().any(|test| is_met(test, roll, reading, &signatures.for_test(test)));
    Readings { with_roads: any(Reading::WithRoads), without_roads: any(Reading::WithoutRoads) }
}

/// The verdict on a roll as it is given.
pub fn verdict(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures) -> Verdict {
    match (readings(tests, roll, signatures), signatures.officer) {
        (Readings { with_roads: true, without_roads: true }, _) => Verdict::Valid,
        (Readings { with_roads: false, without_roads: false }, false) => Verdict::NotValid,
        _ => Verdict::DependsOnRoads,
    }
}

/// Every condition of every test, with its figures; a condition that roads may change is listed for both readings.
pub fn tallies(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures) -> Vec<ConditionTally> {
    let mut tallies = Vec::new();
    for (position, test) in tests.iter().enumerate() {
        let signed = signatures.for_test(test);
        for (number, &condition) in test.all_of.iter().enumerate() {
            for reading in read_as(condition.of) {
                let count = Count::of(condition, roll, reading.unwrap_or(Reading::WithoutRoads));
                tallies.push(ConditionTally {
                    test: position,
                    condition: number,
                    reading,
                    have: count.have(&signed),
                    whole: count.whole,
                    needed: count.needed,
                });
            }
        }
    }
    tallies
}

/// Both readings where the whole differs between them.
fn read_as(of: Denominator) -> Vec<Option<Reading>> {
    if of == Denominator::LandAndPerhapsRoads { Reading::BOTH.map(Some).to_vec() } else { vec![None] }
}

/// Why a verdict is undecided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// The roll names no owner of some parcels, and without these parcels the verdict is another.
    ParcelsWithoutOwner,
    /// Names that look alike may be one owner, and then the verdict is another.
    NamesAlike,
}

/// A verdict, or the doubts that leave it open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settled {
    /// On the roll as it is given.
    pub as_given: Verdict,
    pub doubts: Vec<Doubt>,
}

impl Settled {
    pub fn verdict(&self) -> Verdict {
        if self.doubts.is_empty() { self.as_given } else { Verdict::Undecided }
    }
}

/// The verdict, and what of the roll leaves it open. `alike` are pairs of owners who may be one.
pub fn settled(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures, alike: &[(OwnerIx, OwnerIx)]) -> Settled {
    let as_given = verdict(tests, roll, signatures);
    let owned = roll.without(|land| land.owners.is_empty());
    let (joined, signed) = joined(roll, signatures, alike);
    let doubts = [
        (Doubt::ParcelsWithoutOwner, verdict(tests, &owned, signatures)),
        (Doubt::NamesAlike, verdict(tests, &joined, &signed)),
    ];
    let doubts = doubts.into_iter().filter(|&(_, other)| other != as_given).map(|(doubt, _)| doubt).collect();
    Settled { as_given, doubts }
}

/// Owners who may be one taken as one, who has signed where any of the names has and withdrawn where all that signed have.
fn joined(roll: &Roll, signatures: &Signatures, alike: &[(OwnerIx, OwnerIx)]) -> (Roll, Signatures) {
    let mut first: TiVec<OwnerIx, OwnerIx> = roll.owners.keys().collect();
    for &(one, other) in alike {
        let (kept, dropped) = (first[one].min(first[other]), first[one].max(first[other]));
        for owner in &mut first {
            if *owner == dropped {
                *owner = kept;
            }
        }
    }
    let of = |owners: &BTreeSet<OwnerIx>| -> BTreeSet<OwnerIx> { owners.iter().map(|&owner| first[owner]).collect() };
    let standing = of(&signatures.standing());
    let signed = of(&signatures.signed);
    let withdrawn = signed.difference(&standing).copied().collect();
    (roll.with_owners(|owner| first[owner]), Signatures { signed, withdrawn, officer: signatures.officer })
}
