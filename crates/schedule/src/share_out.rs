//! One amount among many, by largest remainders.

use std::cmp::Reverse;

use crate::money::{Money, RoundingUnit};

/// Shares an amount in proportion to weights, in whole units: everyone first gets the share rounded down, then the units left go one by
/// one to the largest remainders, ties to whoever comes first. What is no whole unit goes to the next of them. `None` where all weights
/// are 0 and the amount is not.
///
/// The shares sum to the amount. *Complexity*: O(n log n).
///
/// # Panics
/// An amount below 0; an amount of units times a weight beyond 128 bits.
pub fn share_out(amount: Money, unit: RoundingUnit, weights: &[u128]) -> Option<Vec<Money>> {
    assert!(amount >= Money::ZERO, "costs are not negative");
    let whole: u128 = weights.iter().sum();
    if whole == 0 {
        return (amount == Money::ZERO).then(|| vec![Money::ZERO; weights.len()]);
    }
    let units = (amount.cents() / unit.cents()) as u128;
    let product = |weight: u128| units.checked_mul(weight).expect("costs and areas of a drain fit 128 bits");
    let mut shares: Vec<i64> = weights.iter().map(|&weight| (product(weight) / whole) as i64 * unit.cents()).collect();
    let mut by_remainder: Vec<usize> = (0..weights.len()).filter(|&at| weights[at] > 0).collect();
    by_remainder.sort_by_key(|&at| Reverse(product(weights[at]) % whole));
    let mut left = amount.cents() - shares.iter().sum::<i64>();
    for at in by_remainder {
        let more = left.min(unit.cents());
        shares[at] += more;
        left -= more;
    }
    Some(shares.into_iter().map(Money::from_cents).collect())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(amount: i64, unit: i64, weights: &[u128], expected: &[i64]) {
        let unit = RoundingUnit::new(Money::from_cents(unit)).unwrap();
        let found = share_out(Money::from_cents(amount), unit, weights).unwrap();
        assert_eq!(found.into_iter().map(Money::cents).collect::<Vec<_>>(), expected);
    }

    /// By hand.
    #[test]
    fn what_is_left_goes_to_the_largest_remainders() {
        check(100, 1, &[1, 1, 1], &[34, 33, 33]);
        check(101, 1, &[1, 1, 1], &[34, 34, 33]);
        check(10, 1, &[2, 1, 1], &[5, 3, 2]);
        check(1000, 100, &[1, 1, 1], &[400, 300, 300]);
        // 10.37 in whole dollars: the 37 cents go where the next dollar would.
        check(1037, 100, &[1, 1, 1], &[400, 337, 300]);
        check(37, 100, &[1, 3], &[37, 0]);
        check(500, 1, &[0, 7, 0], &[0, 500, 0]);
        check(0, 1, &[0, 0], &[0, 0]);
    }

    #[test]
    fn an_amount_that_nobody_uses_cannot_be_shared() {
        assert_eq!(share_out(Money::from_cents(1), RoundingUnit::CENT, &[0, 0]), None);
        assert_eq!(share_out(Money::from_cents(1), RoundingUnit::CENT, &[]), None);
    }

    proptest! {
        /// Exactly the amount, nobody more than a unit from the exact share, nothing without a weight, and the same for all weights doubled.
        #[test]
        fn shares_sum_and_stay_near(amount in 0_i64..1_000_000_000, unit in 1_i64..200, weights in prop::collection::vec(0_u128..1_000_000, 1..12)) {
            let whole: u128 = weights.iter().sum();
            prop_assume!(whole > 0);
            let unit = RoundingUnit::new(Money::from_cents(unit)).unwrap();
            let shares = share_out(Money::from_cents(amount), unit, &weights).unwrap();
            prop_assert_eq!(shares.iter().copied().sum::<Money>().cents(), amount);
            for (share, &weight) in shares.iter().zip(&weights) {
                let off = i128::from(share.cents()) * whole as i128 - i128::from(amount) * weight as i128;
                prop_assert!(off.unsigned_abs() <= whole * 2 * unit.cents() as u128);
                prop_assert!(weight > 0 || *share == Money::ZERO);
            }
            let doubled: Vec<u128> = weights.iter().map(|weight| weight * 2).collect();
            prop_assert_eq!(share_out(Money::from_cents(amount), unit, &doubled).unwrap(), shares);
        }
    }
}
