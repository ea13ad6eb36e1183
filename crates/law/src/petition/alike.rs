//! Names that may be one owner in two spellings.

use std::collections::BTreeSet;
use std::ops::Bound;

use strsim::osa_distance;

use super::roll::{OwnerIx, Roll};

/// Whether two different names may be the same owner's: the same words in another order, an initial for a name, or one letter
/// that differs. Digits must be the same: numbered companies differ by digits alone. Thresholds are our choice.
fn alike(one: &str, other: &str) -> bool {
    let (one_words, other_words) = (words(one), words(other));
    one != other
        && (same_words(&one_words, &other_words)
            || one_initial(&one_words, &other_words)
            || one_letter(&one_words.concat(), &other_words.concat()))
}

/// Pairs of owners of lands whose names look alike.
///
/// *Complexity*: O(m²) for m owners.
pub fn alike_owners(roll: &Roll) -> Vec<(OwnerIx, OwnerIx)> {
    let owners: BTreeSet<OwnerIx> = roll.lands.iter().flat_map(|land| land.owners.iter().copied()).collect();
    let after = |owner: OwnerIx| owners.range((Bound::Excluded(owner), Bound::Unbounded)).copied();
    let pairs = owners.iter().flat_map(|&one| after(one).map(move |other| (one, other)));
    pairs.filter(|&(one, other)| alike(&roll.owners[one], &roll.owners[other])).collect()
}

fn words(name: &str) -> Vec<String> {
    let name = name.to_lowercase();
    name.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

fn same_words(one: &[String], other: &[String]) -> bool {
    let sorted = |words: &[String]| {
        let mut words = words.to_vec();
        words.sort_unstable();
        words
    };
    sorted(one) == sorted(other)
}

fn one_initial(one: &[String], other: &[String]) -> bool {
    let is_letter = |word: &str| word.chars().count() == 1 && word.chars().all(char::is_alphabetic);
    let is_initial = |short: &str, long: &str| is_letter(short) && long.starts_with(short);
    let mut different = one.iter().zip(other).filter(|(one, other)| one != other);
    let Some((first, second)) = different.next() else { return false };
    one.len() == other.len()
        && one.len() >= 2
        && different.next().is_none()
        && (is_initial(first, second) || is_initial(second, first))
}

fn one_letter(one: &str, other: &str) -> bool {
    /// Shorter names differ by a letter too often.
    const LEAST_LETTERS: usize = 6;
    let digits = |name: &str| name.chars().filter(char::is_ascii_digit).collect::<String>();
    let is_long = |name: &str| name.chars().count() >= LEAST_LETTERS;
    is_long(one) && is_long(other) && digits(one) == digits(other) && osa_distance(one, other) == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_name() {
        let check = |one: &str, other: &str, expected: bool| {
            assert_eq!(alike(one, other), expected, "{one} / {other}");
            assert_eq!(alike(other, one), expected, "{other} / {one}");
        };
        check("Orla Teasel", "TEASEL, ORLA", true);
        check("Orla Teasel", "O. Teasel", true);
        check("Teasel Growers Ltd.", "Teasel Growers Ltd", true);
        check("Orla Teasel", "Orla Teazel", true);
        check("Orla Teasel", "Olra Teasel", true);
        check("Orla Teasel", "Orla Teasel", false);
        check("Orla Teasel", "Olaf Teasel", false);
        check("Orla Teasel", "P. Teasel", false);
        check("1234567 Holdings", "1234568 Holdings", false);
        check("Farm 1", "Farm 2", false);
        check("A", "B", false);
        check("Ann Lee", "Ann Lea", true);
        check("A. B", "A. C", false);
        check("Oxpindle Holdings 41 Ltd.", "Oxpindle Holdings 4 Ltd.", false);
        check("Invented 1", "Invented 10", false);
    }
}
