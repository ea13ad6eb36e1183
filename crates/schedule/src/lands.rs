//! What enters the drain where.

use fallwright_units::position;

use crate::fixed_point::fixed_point;
use crate::sections::SectionIx;

position!(
    /// A land's position: a parcel or a road.
    LandIx
);

/// A land of the watershed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Land {
    pub id: String,
    /// Its hectares by the section that they enter; each hectare once.
    pub entries: Vec<Entry>,
}

/// Part of a land whose water enters one section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    pub section: SectionIx,
    pub square_metres: u64,
    pub factor: RunoffFactor,
}

impl Entry {
    /// Equivalent area: square metres times thousandths of the factor.
    pub(crate) fn weight(&self) -> u128 {
        u128::from(self.square_metres) * u128::from(self.factor.thousandths)
    }
}

/// How much water a hectare of some use brings, against cultivated land.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RunoffFactor {
    thousandths: u32,
}

impl RunoffFactor {
    /// Of cultivated land.
    pub const ONE: Self = Self { thousandths: 1000 };

    /// Reads `2.5`; `None` unless above 0, with three decimals at most.
    pub fn parse(text: &str) -> Option<Self> {
        let thousandths = u32::try_from(fixed_point(text.trim(), 3)?).ok()?;
        (thousandths > 0).then_some(Self { thousandths })
    }

    /// For print.
    pub fn value(self) -> f64 {
        f64::from(self.thousandths) / 1000.0
    }
}

impl Land {
    /// Square metres whose water passes through some sections.
    pub fn square_metres(&self, passes: impl Fn(SectionIx) -> bool) -> u64 {
        self.entries.iter().filter(|entry| passes(entry.section)).map(|entry| entry.square_metres).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_are_above_0_with_three_decimals() {
        let check = |text, expected: Option<u32>| {
            assert_eq!(RunoffFactor::parse(text).map(|factor| factor.thousandths), expected, "{text}");
        };
        check("1", Some(1000));
        check("0.5", Some(500));
        check(" 2.125 ", Some(2125));
        for text in ["", "0", "-1", "0.0005", "a", "1e3"] {
            check(text, None);
        }
    }
}
