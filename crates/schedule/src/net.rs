//! What is left to pay after grants and allowances.

use crate::assess::Assessed;
use crate::money::{Money, RoundingUnit};

/// A grant: a part of what is assessed for benefit, outlet and injuring liability (that special benefit and increased cost have none is
/// from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grant {
    pub numerator: u32,
    pub denominator: u32,
    pub basis: GrantBasis,
}

/// Of what a grant is a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GrantBasis {
    BeforeAllowances,
    /// Of what is left after them, never below 0.
    AfterAllowances,
}

/// The last columns of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Net {
    pub grant: Money,
    pub allowance: Money,
    /// Total less grant and allowance; it may be negative.
    pub net: Money,
}

/// # Panics
/// A grant of nothing's parts: a denominator of 0.
pub fn net(assessed: &Assessed, grant: Option<Grant>, allowance: Money, unit: RoundingUnit) -> Net {
    let grant = grant.map_or(Money::ZERO, |grant| grant.of(assessed, allowance, unit));
    Net { grant, allowance, net: assessed.total() - grant - allowance }
}

impl Grant {
    /// To the nearest unit; halves go up.
    fn of(self, assessed: &Assessed, allowance: Money, unit: RoundingUnit) -> Money {
        let basis = match self.basis {
            GrantBasis::BeforeAllowances => assessed.shared(),
            GrantBasis::AfterAllowances => (assessed.shared() - allowance).max(Money::ZERO),
        };
        let parts = i128::from(self.denominator) * i128::from(unit.cents());
        let twice = 2 * i128::from(basis.cents()) * i128::from(self.numerator);
        let units = (twice + parts).div_euclid(2 * parts);
        Money::from_cents(i64::try_from(units).expect("no more than what is assessed") * unit.cents())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, with a special benefit of 100.00 that has no grant: a third of 31,819.37 is 10,606.456..., of 11,932.26 it is 3,977.42.
    #[test]
    fn a_third_before_or_after_allowances() {
        let check = |cents: i64, basis, allowance: i64, expected: [i64; 2]| {
            let special_benefit = Money::from_cents(10_000);
            let assessed = Assessed { outlet: Money::from_cents(cents), special_benefit, ..Assessed::default() };
            let third = Some(Grant { numerator: 1, denominator: 3, basis });
            let found = net(&assessed, third, Money::from_cents(allowance), RoundingUnit::CENT);
            assert_eq!([found.grant.cents(), found.net.cents()], expected);
        };
        check(3_181_937, GrantBasis::BeforeAllowances, 0, [1_060_646, 2_131_291]);
        check(1_193_226, GrantBasis::BeforeAllowances, 0, [397_742, 805_484]);
        check(300_000, GrantBasis::BeforeAllowances, 450_000, [100_000, -240_000]);
        check(300_000, GrantBasis::AfterAllowances, 450_000, [0, -140_000]);
        check(300_000, GrantBasis::AfterAllowances, 150_000, [50_000, 110_000]);
    }
}
