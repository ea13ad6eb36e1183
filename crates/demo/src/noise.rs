//! Value noise on an integer lattice: the seeded source of everything uneven in the township.
//!
//! Only integer hashing and polynomials, so every machine gets the same bits.

use crate::geometry::mix;

/// The seed of the demonstration case (our choice). Another value gives another township of the same plan.
const SEED: u32 = 0x51de_0a17;

/// A hash of three integers, spread evenly over 0 to 1.
fn lattice(layer: u32, i: i32, j: i32) -> f64 {
    let mut h = SEED ^ layer.wrapping_mul(0x9e37_79b1);
    for part in [i.cast_unsigned(), j.cast_unsigned()] {
        h = (h ^ part).wrapping_mul(0x85eb_ca6b);
        h ^= h >> 13;
        h = h.wrapping_mul(0xc2b2_ae35);
        h ^= h >> 16;
    }
    f64::from(h) / f64::from(u32::MAX)
}

/// Smooth noise between -1 and 1 whose swells are about `wavelength` metres apart. Layers are independent of each other.
pub(crate) fn noise(layer: u32, wavelength: f64, (u, v): (f64, f64)) -> f64 {
    let (gu, gv) = (2.0 * u / wavelength, 2.0 * v / wavelength);
    let (i, j) = (gu.floor(), gv.floor());
    let (a, b) = (fade(gu - i), fade(gv - j));
    let (i, j) = (i as i32, j as i32);
    let south = mix(lattice(layer, i, j), lattice(layer, i + 1, j), a);
    let north = mix(lattice(layer, i, j + 1), lattice(layer, i + 1, j + 1), a);
    2.0 * mix(south, north, b) - 1.0
}

/// One of `count` values, picked by a hash of the three integers.
pub(crate) fn pick(layer: u32, i: i32, j: i32, count: usize) -> usize {
    ((lattice(layer, i, j) * count as f64) as usize).min(count - 1)
}

/// 0 to 1 with level ends, so that the noise has no creases along lattice lines.
fn fade(t: f64) -> f64 {
    t * t * t * (t * (6.0 * t - 15.0) + 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_stays_between_its_bounds_and_is_continuous() {
        for step in 0..2_000 {
            let (u, v) = (f64::from(step) * 1.7, f64::from(step) * 0.9);
            let here = noise(1, 60.0, (u, v));
            assert!((-1.0..=1.0).contains(&here));
            assert!((noise(1, 60.0, (u + 0.01, v)) - here).abs() < 0.01);
        }
    }

    #[test]
    fn layers_differ() {
        assert!((noise(1, 60.0, (100.0, 200.0)) - noise(2, 60.0, (100.0, 200.0))).abs() > 1e-6);
    }
}
