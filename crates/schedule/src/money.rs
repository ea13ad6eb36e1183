//! Amounts of money, exact.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub};

use crate::fixed_point::fixed_point;

/// An amount in the currency of the case, in whole cents.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Money {
    cents: i64,
}

impl Money {
    pub const ZERO: Self = Self { cents: 0 };

    pub const fn from_cents(cents: i64) -> Self {
        Self { cents }
    }

    pub const fn cents(self) -> i64 {
        self.cents
    }

    /// Reads a plain decimal number such as `1234.5`; `None` for anything else, for parts of a cent, and beyond 64 bits of cents.
    pub fn parse(text: &str) -> Option<Self> {
        fixed_point(text.trim(), 2).map(Self::from_cents)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cents = self.cents.unsigned_abs();
        let sign = if self.cents < 0 { "-" } else { "" };
        write!(formatter, "{sign}{}.{:02}", cents / 100, cents % 100)
    }
}

impl Add for Money {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self { cents: self.cents + other.cents }
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Money {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self { cents: self.cents - other.cents }
    }
}

impl Neg for Money {
    type Output = Self;

    fn neg(self) -> Self {
        Self { cents: -self.cents }
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

/// What shares are rounded to: a cent, a dollar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RoundingUnit {
    cents: i64,
}

impl RoundingUnit {
    pub const CENT: Self = Self { cents: 1 };

    /// `None` unless positive.
    pub fn new(unit: Money) -> Option<Self> {
        (unit > Money::ZERO).then_some(Self { cents: unit.cents })
    }

    pub(crate) const fn cents(self) -> i64 {
        self.cents
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_read_and_written() {
        let check = |text, expected: Option<i64>| assert_eq!(Money::parse(text).map(Money::cents), expected, "{text}");
        check("30000", Some(3_000_000));
        check(" 1234.5 ", Some(123_450));
        check("0.01", Some(1));
        check("-12.30", Some(-1230));
        check("5.00000", Some(500));
        check("92233720368547758.07", Some(i64::MAX));
        for text in ["", "1,234.50", "$5", "0.005", "1e3", "NaN", "92233720368547758.08"] {
            check(text, None);
        }
        assert_eq!(Money::from_cents(-5).to_string(), "-0.05");
        assert_eq!(Money::from_cents(3_181_937).to_string(), "31819.37");
    }

    #[test]
    fn a_rounding_unit_is_positive() {
        assert_eq!(RoundingUnit::new(Money::ZERO), None);
        assert_eq!(RoundingUnit::new(Money::from_cents(1)), Some(RoundingUnit::CENT));
    }
}
