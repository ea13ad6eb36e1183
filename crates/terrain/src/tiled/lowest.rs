//! The neighbour of each flat cell with the smallest mask, 64 cells at once.
//!
//! The mask of [`crate::textbook`] is twice the steps to the low edge less the steps away from higher ground, and a constant
//! of the flat. Between neighbours each of the two differs by at most one, and one neighbour at least is nearer to the low
//! edge. So the smallest mask is less than the cell's own by three (nearer to the low edge, farther from higher ground), by
//! two (nearer, as far), or by one (nearer to both; or as far from the low edge, farther from higher ground).

use multiversion::multiversion;

use super::bits::{Bits, NORTH, SIDE, SOUTH, in_bytes};
use super::patch::Patch;
use super::simd_lanes::{LANES, Lanes};
use crate::direction;

/// Flat cells with the last two binary digits of their steps, those of the margin included.
pub(crate) struct Masks<'a> {
    pub(crate) flat: &'a Bits,
    pub(crate) toward: &'a [Bits; 2],
    pub(crate) away: &'a [Bits; 2],
}

/// By word of one row of squares: the binary digits of the position of the neighbour with the smallest mask.
#[derive(Debug, Default)]
pub(crate) struct Lowest {
    position: [Vec<u64>; 3],
    found: Vec<u64>,
}

impl Lowest {
    /// Gives some cells of a tile their directions; ties go to the lowest code.
    pub(crate) fn drain(&mut self, masks: &Masks, cells: &Bits, code: &mut Patch<u8>) {
        for digit in self.position.iter_mut().chain([&mut self.found]) {
            digit.clear();
            digit.resize(cells.across.next_multiple_of(LANES), 0);
        }
        for words in cells.rows() {
            let start = words.start;
            let drained = &cells.words[words];
            if drained.iter().all(|&cells| cells == 0) {
                continue;
            }
            look(masks, start, &mut self.position, &mut self.found);
            for (word, &drained) in drained.iter().enumerate().filter(|(_, drained)| **drained != 0) {
                let position = [0, 1, 2].map(|digit| self.position[digit][word]);
                let found = self.found[word];
                cells.write(start + word, drained, code, |row, _| {
                    let digit = |digit: usize| (position[digit] >> row & NORTH) << digit;
                    let to = (digit(0) | digit(1) | digit(2)) + OF_FIRST;
                    // Nothing was found: zero is the code of an end.
                    to & in_bytes(found >> row)
                });
            }
        }
    }
}

/// The code of the first neighbour in every byte.
const OF_FIRST: u64 = u64::from_ne_bytes([direction::of_neighbour(0); SIDE]);
const _: () = assert!(direction::ENDS == 0, "an end must be no code");

#[multiversion(targets = "simd")]
fn look(masks: &Masks, first: usize, position: &mut [Vec<u64>; 3], found: &mut [u64]) {
    for (lanes, found) in found.chunks_exact_mut(LANES).enumerate() {
        let at = first + lanes * LANES;
        let here = |bits: &Bits| Lanes::at(&bits.words, at);
        let (t0, t1) = (here(&masks.toward[0]), here(&masks.toward[1]));
        let (a0, a1) = (here(&masks.away[0]), here(&masks.away[1]));
        let flat = around(masks.flat, at);
        let (next_t0, next_t1) = (around(&masks.toward[0], at), around(&masks.toward[1], at));
        let (next_a0, next_a1) = (around(&masks.away[0], at), around(&masks.away[1], at));
        // By how much less the least mask is, and where: binary digits.
        let (mut less, mut place) = ([Lanes::default(); 2], [Lanes::default(); 3]);
        for next in 0..8 {
            let (dt0, dt1, da0, da1) = (next_t0[next] ^ t0, next_t1[next] ^ t1, next_a0[next] ^ a0, next_a1[next] ^ a1);
            // One less: the last digit changes, the other where the last was zero. One more: where the last was one.
            let nearer = flat[next] & dt0 & (dt1 ^ t0);
            let as_near = flat[next] & !(dt0 | dt1);
            let (less_away, more_away) = (da0 & (da1 ^ a0), da0 & !(da1 ^ a0));
            let by = [nearer & da0 | as_near & more_away, nearer & !less_away];
            let is_less = by[1] & !less[1] | by[0] & !less[0] & !(by[1] ^ less[1]);
            less = [by[0] & is_less | less[0] & !is_less, by[1] & is_less | less[1]];
            for (digit, place) in place.iter_mut().enumerate() {
                *place = if next >> digit & 1 == 1 { *place | is_less } else { *place & !is_less };
            }
        }
        found.copy_from_slice(&(less[0] | less[1]).0);
        for (to, place) in position.iter_mut().zip(place) {
            to[lanes * LANES..][..LANES].copy_from_slice(&place.0);
        }
    }
}

/// The neighbours of the cells of some words, in the order of [`fallwright_units::NEIGHBOURS`].
#[inline]
fn around(bits: &Bits, at: usize) -> [Lanes; 8] {
    let [west, here, east] = [at - 1, at, at + 1].map(|at| column(bits, at));
    let before = |row: usize| here[row] << SIDE | west[row] >> (SIDE * (SIDE - 1));
    let after = |row: usize| here[row] >> SIDE | east[row] << (SIDE * (SIDE - 1));
    [after(0), after(1), after(2), here[2], before(2), before(1), before(0), here[0]]
}

/// The cells above those of some words, the cells themselves, and those below.
#[inline]
fn column(bits: &Bits, at: usize) -> [Lanes; 3] {
    let [north, here, south] = [at - bits.across, at, at + bits.across].map(|at| Lanes::at(&bits.words, at));
    let above = (here & !SOUTH) << 1 | (north & SOUTH) >> (SIDE - 1);
    let below = (here & !NORTH) >> 1 | (south & NORTH) << (SIDE - 1);
    [above, here, below]
}
