//! The smallest choice from groups of options that brings enough to every goal.
//!
//! Owners who own land together form a group; a choice takes one option, a set of owners, from each. Choices of one size are kept
//! only where no other brings as much to every goal, so that what is left is small where the groups are.

use std::collections::BTreeMap;

/// One option of a group: which of its owners, as bits, and what they bring to each goal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct GroupOption {
    pub(super) members: u32,
    pub(super) weights: Vec<u64>,
}

impl GroupOption {
    fn size(&self) -> usize {
        self.members.count_ones() as usize
    }
}

/// The options that no other of their size surpasses.
pub(super) fn unsurpassed(options: impl Iterator<Item = GroupOption>) -> Vec<GroupOption> {
    let mut by_size: BTreeMap<usize, Vec<GroupOption>> = BTreeMap::new();
    for option in options {
        let known = by_size.entry(option.size()).or_default();
        if known.iter().all(|other| !covers(&other.weights, &option.weights)) {
            known.retain(|other| !covers(&option.weights, &other.weights));
            known.push(option);
        }
    }
    by_size.into_values().flatten().collect()
}

/// Whether one brings as much as another to every goal.
fn covers(more: &[u64], less: &[u64]) -> bool {
    more.iter().zip(less).all(|(more, less)| more >= less)
}

/// Choices that are kept at one time beyond which the search ends without an answer (our choice: some 100 MB).
const MOST_CHOICES: usize = 500_000;

/// A choice from the groups so far.
#[derive(Clone, Debug)]
struct Choice {
    /// What it brings, no more than each goal needs.
    weights: Vec<u64>,
    /// Position of its last step; `None` for no owner at all.
    step: Option<usize>,
}

/// A group whose option holds owners, after an earlier step.
struct Step {
    before: Option<usize>,
    group: usize,
    members: u32,
}

/// The smallest choice of fewer than `below` owners that brings what is needed: group and members for each group with any.
/// `Ok(None)` where there is none; `Err` where the search would take too much memory.
///
/// *Complexity*: for each group the choices kept times its options.
pub(super) fn smallest_choice(
    groups: &[Vec<GroupOption>],
    needed: &[u64],
    below: usize,
) -> Result<Option<Vec<(usize, u32)>>, TooMany> {
    let mut steps: Vec<Step> = Vec::new();
    let mut by_size: BTreeMap<usize, Vec<Choice>> = BTreeMap::new();
    by_size.insert(0, vec![Choice { weights: vec![0; needed.len()], step: None }]);
    for (group, options) in groups.iter().enumerate() {
        let mut next: BTreeMap<usize, Vec<Choice>> = BTreeMap::new();
        for (&size, choices) in &by_size {
            for option in options.iter().filter(|option| size + option.size() < below) {
                let longer = next.entry(size + option.size()).or_default();
                for choice in choices {
                    add(longer, extended(choice, option, needed), || {
                        if option.members == 0 {
                            return choice.step;
                        }
                        steps.push(Step { before: choice.step, group, members: option.members });
                        Some(steps.len() - 1)
                    });
                }
            }
        }
        if steps.len() > MOST_CHOICES {
            return Err(TooMany);
        }
        by_size = next;
    }
    let is_enough = |choice: &&Choice| choice.weights == needed;
    let found = by_size.values().find_map(|choices| choices.iter().find(is_enough));
    Ok(found.map(|choice| taken(&steps, choice.step)))
}

/// The groups are too entangled to search through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TooMany;

fn extended(choice: &Choice, option: &GroupOption, needed: &[u64]) -> Vec<u64> {
    let sums = choice.weights.iter().zip(&option.weights).map(|(have, more)| have + more);
    sums.zip(needed).map(|(sum, &needed)| sum.min(needed)).collect()
}

/// Keeps a choice among others of its size, unless one brings as much, and drops those that bring no more than it.
fn add(choices: &mut Vec<Choice>, weights: Vec<u64>, step: impl FnOnce() -> Option<usize>) {
    if choices.iter().any(|known| covers(&known.weights, &weights)) {
        return;
    }
    choices.retain(|known| !covers(&weights, &known.weights));
    let step = step();
    choices.push(Choice { weights, step });
}

fn taken(steps: &[Step], last: Option<usize>) -> Vec<(usize, u32)> {
    let back = std::iter::successors(last, |&step| steps[step].before);
    back.map(|step| (steps[step].group, steps[step].members)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Groups of one owner each, by what the owner brings.
    fn single(weights: &[&[u64]]) -> Vec<Vec<GroupOption>> {
        let group = |weights: &&[u64]| {
            let none = GroupOption { members: 0, weights: vec![0; weights.len()] };
            vec![none, GroupOption { members: 1, weights: weights.to_vec() }]
        };
        weights.iter().map(group).collect()
    }

    #[test]
    fn the_smallest_choice_meets_every_goal() {
        let check = |weights: &[&[u64]], needed: &[u64], below: usize, expected: Option<&[usize]>| {
            let found = smallest_choice(&single(weights), needed, below).unwrap();
            let groups = found.map(|choice| {
                let mut groups: Vec<usize> = choice.into_iter().map(|(group, _)| group).collect();
                groups.sort_unstable();
                groups
            });
            assert_eq!(groups.as_deref(), expected, "{weights:?} {needed:?}");
        };
        // The largest for the first goal is no use for the second.
        check(&[&[9, 0], &[5, 5], &[4, 4], &[0, 9]], &[9, 9], 9, Some(&[0, 3]));
        check(&[&[9, 0], &[5, 5], &[4, 4], &[0, 8]], &[9, 9], 9, Some(&[1, 2]));
        check(&[&[9, 0], &[5, 5]], &[9, 9], 9, None);
        check(&[&[5], &[5]], &[10], 2, None);
        check(&[&[5], &[5]], &[10], 3, Some(&[0, 1]));
        check(&[], &[], 1, Some(&[]));
    }
}
