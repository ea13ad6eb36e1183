//! The numbers that a key may hold.

/// All must be finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Range {
    /// 0 to this.
    UpTo(f64),
    /// Above 0 to this.
    AboveZeroUpTo(f64),
}

impl Range {
    pub(super) fn holds(self, number: f64) -> bool {
        match self {
            Self::UpTo(most) => (0.0..=most).contains(&number),
            Self::AboveZeroUpTo(most) => number > 0.0 && number <= most,
        }
    }

    pub(crate) fn words(self) -> String {
        match self {
            Self::UpTo(most) => format!("a number from 0 to {most}"),
            Self::AboveZeroUpTo(most) => format!("a number above 0, {most} at most"),
        }
    }
}
