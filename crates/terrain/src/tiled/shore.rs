//! What the rows of a tile say of its flat cells: which lie beside a low edge, and which beside higher ground.
//!
//! Each flat cell has a mark that says both. Where the tile alone does not decide its direction, the mark stands in the place
//! of the code until the flats of all tiles are joined.

use multiversion::multiversion;

use super::bits::{Bits, NORTH, SIDE};
use super::patch::Patch;
use crate::direction::{self, ON_FLAT};

/// Set in the mark of every flat cell.
const FLAT: u8 = 1 << 7;
const BESIDE_HIGHER: u8 = 1 << 6;
/// Never set in a mark, but where there is no data ([`direction::NODATA`]).
const NO_MARK: u8 = 1 << 5;
/// The direction to the low edge, 0 where it is not beside the cell.
const TO_LOW_EDGE: u8 = (1 << 4) - 1;
/// The same in eight marks.
const TO_LOW_EDGES: u64 = u64::from_le_bytes([TO_LOW_EDGE; SIDE]);

/// Whether this is the mark of a flat cell and no direction.
pub(crate) fn is_flat(mark: u8) -> bool {
    mark & (FLAT | NO_MARK) == FLAT
}

/// The direction to the low edge where it is beside a flat cell; ties go to the lowest code.
pub(crate) fn to_low_edge(mark: u8) -> Option<u8> {
    Some(mark & TO_LOW_EDGE).filter(|&to| to != 0)
}

/// The mark of a cell beside another low edge as well.
pub(crate) fn with_low_edge(mark: u8, to: u8) -> u8 {
    mark & !TO_LOW_EDGE | to_low_edge(mark).map_or(to, |known| known.min(to))
}

/// The marked cells of a tile.
#[derive(Debug, Default)]
pub(crate) struct Marked {
    pub(crate) flat: Bits,
    /// Beside the low edge.
    pub(crate) low: Bits,
    /// Beside higher ground.
    pub(crate) high: Bits,
}

impl Marked {
    /// Reads the marks of a tile; other values than marks are passed over.
    pub(crate) fn read(&mut self, marks: &Patch<u8>) {
        for bits in [&mut self.flat, &mut self.low, &mut self.high] {
            bits.clear(marks.cols, marks.rows);
        }
        for row in 1..=marks.rows {
            let start = (row / SIDE + 1) * self.flat.across + 1;
            let squares = start..start + self.flat.across;
            let words = [&mut self.flat, &mut self.low, &mut self.high].map(|bits| &mut bits.words[squares.clone()]);
            read_row(&marks.values[row * marks.stride..][..marks.stride], row % SIDE, words);
        }
    }
}

/// Adds the marks of one row of a patch to the squares that it is a row of.
#[multiversion(targets = "simd")]
fn read_row(marks: &[u8], row: usize, [flat, low, high]: [&mut [u64]; 3]) {
    let (eights, rest) = marks.as_chunks::<SIDE>();
    let mut last = [0; SIDE];
    last[..rest.len()].copy_from_slice(rest);
    for (first, eights) in [(0, eights), (eights.len(), &[last])] {
        let words = flat[first..].iter_mut().zip(&mut low[first..]).zip(&mut high[first..]);
        for (((flat, low), high), &eight) in words.zip(eights) {
            let marks = u64::from_le_bytes(eight);
            let is_flat = marks >> 7 & !(marks >> 5) & NORTH;
            // Any direction carries over into the next bit.
            let is_low = ((marks & TO_LOW_EDGES) + TO_LOW_EDGES) >> 4 & is_flat;
            *flat |= is_flat << row;
            *low |= is_low << row;
            *high |= (marks >> 6 & is_flat) << row;
        }
    }
}

/// Puts the direction to the low edge in the place of the marks of some cells, all beside it.
pub(crate) fn drain(low: &Bits, code: &mut Patch<u8>) {
    for (word, cells) in low.filled() {
        low.write(word, cells, code, |_, marks| marks & TO_LOW_EDGES);
    }
}

/// Of each cell of a tile: 0 off the flats.
#[derive(Debug, Default)]
pub(crate) struct Shore {
    of: Patch<u8>,
    /// Levels of the cells that water can leave a flat by, `NaN` elsewhere and in the margin.
    low: Patch<f32>,
}

impl Shore {
    /// Looks at every cell once. `surface` has its margin; what lies in the margin is no low edge yet. A cell in
    /// `backwater` is none at all.
    ///
    /// *Complexity*: O(n) for n cells.
    pub(crate) fn find(&mut self, surface: &Patch<f32>, code: &Patch<u8>, backwater: impl Iterator<Item = usize>) {
        self.low.fit(code.cols, code.rows, f32::NAN);
        self.of.fit(code.cols, code.rows, 0);
        for row in 0..code.rows {
            let range = code.row(row);
            let cells = self.low.values[range.clone()].iter_mut().zip(&code.values[range.clone()]);
            for ((low, &code), &level) in cells.zip(&surface.values[range]) {
                *low = if code == ON_FLAT { f32::NAN } else { level };
            }
        }
        for inlet in backwater {
            self.low.values[inlet] = f32::NAN;
        }
        look(surface, code, &self.low, &mut self.of);
    }

    /// Puts the marks of the flat cells in the place of their codes.
    pub(crate) fn mark(&self, code: &mut Patch<u8>) {
        for row in 0..code.rows {
            let range = code.row(row);
            for (code, &mark) in code.values[range.clone()].iter_mut().zip(&self.of.values[range]) {
                *code = if mark == 0 { *code } else { mark };
            }
        }
    }
}

#[multiversion(targets = "simd")]
fn look(surface: &Patch<f32>, code: &Patch<u8>, low: &Patch<f32>, of: &mut Patch<u8>) {
    for row in 0..code.rows {
        let range = code.row(row);
        let codes = &code.values[range.clone()];
        let to = &mut of.values[range.clone()];
        if !codes.contains(&ON_FLAT) {
            to.fill(0);
            continue;
        }
        let here = &surface.values[range];
        let (beside, low) = (surface.lines_around(row), low.lines_around(row));
        for col in 0..codes.len() {
            let level = here[col];
            let (mut first, mut most) = (0_u32, level);
            // The last look decides: ties go to the lowest code.
            for position in (0..8).rev() {
                first = if low[position][col] == level { position as u32 + 1 } else { first };
                most = if beside[position][col] > most { beside[position][col] } else { most };
            }
            let higher = if most > level { u32::from(BESIDE_HIGHER) } else { 0 };
            let shore = (first | higher) as u8 | FLAT;
            to[col] = if codes[col] == ON_FLAT { shore } else { 0 };
        }
    }
}

const _: () = assert!(direction::of_neighbour(7) <= TO_LOW_EDGE, "codes must fit beside the marks");
