//! Eight words at once, in a form that compilers turn into vector instructions.

use std::ops::{BitAnd, BitOr, BitXor, Not, Shl, Shr};

/// Words worked on together: as many as the widest vectors hold.
pub(crate) const LANES: usize = 8;

#[derive(Clone, Copy, Default)]
pub(crate) struct Lanes(pub(crate) [u64; LANES]);

impl Lanes {
    /// The words of a list from a position on.
    #[inline]
    pub(crate) fn at(words: &[u64], first: usize) -> Self {
        let mut lanes = [0; LANES];
        lanes.copy_from_slice(&words[first..first + LANES]);
        Self(lanes)
    }

    #[inline]
    fn with(self, other: Self, lane: impl Fn(u64, u64) -> u64) -> Self {
        let mut lanes = [0; LANES];
        for (to, (&a, &b)) in lanes.iter_mut().zip(self.0.iter().zip(&other.0)) {
            *to = lane(a, b);
        }
        Self(lanes)
    }
}

impl BitAnd for Lanes {
    type Output = Self;
    #[inline]
    fn bitand(self, other: Self) -> Self {
        self.with(other, |a, b| a & b)
    }
}

impl BitOr for Lanes {
    type Output = Self;
    #[inline]
    fn bitor(self, other: Self) -> Self {
        self.with(other, |a, b| a | b)
    }
}

impl BitXor for Lanes {
    type Output = Self;
    #[inline]
    fn bitxor(self, other: Self) -> Self {
        self.with(other, |a, b| a ^ b)
    }
}

impl Not for Lanes {
    type Output = Self;
    #[inline]
    fn not(self) -> Self {
        self.with(self, |a, _| !a)
    }
}

/// The same word in every lane.
impl BitAnd<u64> for Lanes {
    type Output = Self;
    #[inline]
    fn bitand(self, word: u64) -> Self {
        self.with(self, |a, _| a & word)
    }
}

impl Shl<usize> for Lanes {
    type Output = Self;
    #[inline]
    fn shl(self, bits: usize) -> Self {
        self.with(self, |a, _| a << bits)
    }
}

impl Shr<usize> for Lanes {
    type Output = Self;
    #[inline]
    fn shr(self, bits: usize) -> Self {
        self.with(self, |a, _| a >> bits)
    }
}
