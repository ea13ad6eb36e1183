//! How firm a verdict is: whose signature tips it, and the fewest that would.

use std::collections::BTreeSet;

use super::count::{Count, Reading};
use super::roll::{OwnerIx, Roll};
use super::rule::{Denominator, PetitionTest, Withdrawals};
use super::smallest::{Smallest, fewest_to_break, fewest_to_meet};
use super::verdict::{Signatures, counts, readings};

/// The fewest owners that would change the verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Firmness {
    /// Further signatures with which some test is met in each reading; empty where it is already, `None` where none are enough.
    pub to_pass: Option<Smallest>,
    /// Withdrawals after which no test is met in one of the readings; `None` where that is so already, or no withdrawal counts.
    pub to_break: Option<Smallest>,
    pub by_test: Vec<TestFirmness>,
}

/// The same of one test alone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TestFirmness {
    /// Position of the test.
    pub test: usize,
    /// `None` where both readings are the same.
    pub reading: Option<Reading>,
    pub is_met: bool,
    pub to_pass: Option<Smallest>,
    pub to_break: Option<Smallest>,
}

/// A test in one reading, with the signatures it counts.
struct Standing {
    counts: Vec<Count>,
    signed: BTreeSet<OwnerIx>,
    withdrawals: Withdrawals,
}

impl Standing {
    fn of(test: &PetitionTest, roll: &Roll, signatures: &Signatures, reading: Reading) -> Self {
        let (counts, signed) = (counts(test, roll, reading), signatures.for_test(test));
        Self { counts, signed, withdrawals: test.withdrawals }
    }

    fn is_met(&self) -> bool {
        self.counts.iter().all(|count| count.is_met(&self.signed))
    }

    fn to_pass(&self) -> Option<Smallest> {
        fewest_to_meet(&self.counts.iter().map(|count| (count, &self.signed)).collect::<Vec<_>>())
    }

    fn to_break(&self) -> Option<Smallest> {
        if self.is_met() { to_break_all(&[self]) } else { None }
    }
}

/// *Complexity*: a search for each pair of tests, and for each choice of one condition from every test.
pub fn firmness(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures) -> Firmness {
    let in_reading = |reading| tests.iter().map(|test| Standing::of(test, roll, signatures, reading)).collect();
    let [with, without]: [Vec<Standing>; 2] = Reading::BOTH.map(in_reading);
    let pairs = with.iter().flat_map(|one| without.iter().map(move |other| (one, other)));
    let to_pass = pairs.filter_map(|(one, other)| {
        let one = one.counts.iter().map(|count| (count, &one.signed));
        let other = other.counts.iter().map(|count| (count, &other.signed));
        fewest_to_meet(&one.chain(other).collect::<Vec<_>>())
    });
    let is_valid = readings(tests, roll, signatures).are_valid();
    let to_break = [&with, &without].into_iter().filter_map(|standings| {
        let met: Vec<&Standing> = standings.iter().filter(|standing| standing.is_met()).collect();
        to_break_all(&met)
    });
    Firmness {
        to_pass: smallest_of(to_pass),
        to_break: if is_valid { smallest_of(to_break) } else { None },
        by_test: by_test(tests, &with, &without),
    }
}

/// The smallest of several, proven only where all are.
fn smallest_of(sets: impl Iterator<Item = Smallest>) -> Option<Smallest> {
    sets.reduce(|one, other| {
        let is_proven = one.is_proven && other.is_proven;
        let owners = if other.owners.len() < one.owners.len() { other.owners } else { one.owners };
        Smallest { owners, is_proven }
    })
}

fn by_test(tests: &[PetitionTest], with: &[Standing], without: &[Standing]) -> Vec<TestFirmness> {
    let mut rows = Vec::new();
    for (position, test) in tests.iter().enumerate() {
        let row = |reading: Option<Reading>, standing: &Standing| TestFirmness {
            test: position,
            reading,
            is_met: standing.is_met(),
            to_pass: standing.to_pass(),
            to_break: standing.to_break(),
        };
        if test.all_of.iter().any(|condition| condition.of == Denominator::LandAndPerhapsRoads) {
            rows.push(row(Some(Reading::WithRoads), &with[position]));
            rows.push(row(Some(Reading::WithoutRoads), &without[position]));
        } else {
            rows.push(row(None, &without[position]));
        }
    }
    rows
}

/// The fewest withdrawals after which none of the tests is met: in each, some condition must fail.
fn to_break_all(met: &[&Standing]) -> Option<Smallest> {
    if met.iter().any(|standing| standing.withdrawals == Withdrawals::Ignored) {
        return None;
    }
    let mut choices: Vec<Vec<(&Count, &BTreeSet<OwnerIx>)>> = vec![Vec::new()];
    for standing in met {
        let longer = |choice: Vec<_>| {
            standing.counts.iter().map(move |count| [choice.clone(), vec![(count, &standing.signed)]].concat())
        };
        choices = choices.into_iter().flat_map(longer).collect();
    }
    smallest_of(choices.iter().filter_map(|choice| fewest_to_break(choice)))
}

/// Owners whose signature or withdrawal alone changes whether the signatures are enough in one of the readings.
///
/// *Complexity*: O(n · m) for n lands and m owners.
pub fn tipping(tests: &[PetitionTest], roll: &Roll, signatures: &Signatures) -> BTreeSet<OwnerIx> {
    let given = readings(tests, roll, signatures);
    let owners: BTreeSet<OwnerIx> = roll.lands.iter().flat_map(|land| land.owners.iter().copied()).collect();
    owners.into_iter().filter(|&owner| readings(tests, roll, &signatures.toggled(owner)) != given).collect()
}
