//! Passes between basins.

use serde::{Deserialize, Serialize};

/// The lowest level found so far at which water of two basins meets, metres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pass {
    pub level: f32,
    pub a: u32,
    pub b: u32,
}

/// Collects passes, and keeps only the lowest of those between the same two basins that come close together.
#[derive(Clone, Debug, Default)]
pub(crate) struct Passes {
    /// Those that may still be lowered, by a hash of their basins.
    recent: Vec<Pass>,
    pub(crate) all: Vec<Pass>,
}

const RECENT: usize = 1 << 12;
const NONE: Pass = Pass { level: 0.0, a: u32::MAX, b: u32::MAX };

impl Passes {
    pub(crate) fn clear(&mut self) {
        self.all.clear();
        self.recent.clear();
        self.recent.resize(RECENT, NONE);
    }

    pub(crate) fn add(&mut self, level: f32, a: u32, b: u32) {
        let (a, b) = (a.min(b), a.max(b));
        // Any odd numbers without a pattern spread the pairs; the upper bits depend on all lower ones.
        let hash = a.wrapping_mul(0x9E37_79B1) ^ b.wrapping_mul(0x85EB_CA77);
        let kept = &mut self.recent[hash as usize >> 20];
        if (kept.a, kept.b) == (a, b) {
            kept.level = kept.level.min(level);
        } else {
            if kept.a != u32::MAX {
                self.all.push(*kept);
            }
            *kept = Pass { level, a, b };
        }
    }

    /// Puts the recent ones with the others.
    pub(crate) fn finish(&mut self) {
        self.all.extend(self.recent.drain(..).filter(|pass| pass.a != u32::MAX));
    }
}

/// A number that orders finite elevations as they are ordered.
pub(crate) fn rank(level: f32) -> u32 {
    let bits = level.to_bits();
    if bits >> 31 == 0 { bits | 1 << 31 } else { !bits }
}

/// The elevation of a rank.
pub(crate) fn level_of(rank: u32) -> f32 {
    f32::from_bits(if rank >> 31 == 1 { rank & !(1 << 31) } else { !rank })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_order_elevations() {
        let levels = [f32::MIN, -3.5, -1e-30, 0.0, 1e-30, 2.0, 2.000_000_2, f32::MAX, f32::INFINITY];
        assert!(levels.windows(2).all(|pair| rank(pair[0]) < rank(pair[1])));
        assert!(levels.iter().all(|&level| level_of(rank(level)) == level));
    }

    #[test]
    fn the_lowest_pass_of_a_pair_is_kept() {
        let mut passes = Passes::default();
        passes.clear();
        for (level, a, b) in [(5.0, 1, 2), (4.0, 2, 1), (6.0, 1, 2), (1.0, 3, 1)] {
            passes.add(level, a, b);
        }
        passes.finish();
        passes.all.sort_by(|a, b| a.level.total_cmp(&b.level));
        assert_eq!(passes.all, [Pass { level: 1.0, a: 1, b: 3 }, Pass { level: 4.0, a: 1, b: 2 }]);
    }
}
