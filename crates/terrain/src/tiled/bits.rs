//! Sets of cells of a tile with a bit a cell, so that 64 cells are worked on at once.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::deltas;
use super::patch::Patch;
use super::simd_lanes::LANES;

/// Cells on each side of the square that a word holds: a line through a square has some eight cells, whichever way it runs.
pub(crate) const SIDE: usize = 8;
/// The first row of a square and the last.
pub(crate) const NORTH: u64 = 0x0101_0101_0101_0101;
pub(crate) const SOUTH: u64 = NORTH << LAST;
/// The first column and the last.
const WEST: u64 = (1 << SIDE) - 1;
const EAST: u64 = WEST << (SIDE * LAST);
const CORNERS: u64 = (NORTH | SOUTH) & (WEST | EAST);
const LAST: usize = SIDE - 1;

/// A set of cells of a tile and its margin: a word for each square of cells, row by row.
///
/// In a word the cells lie column by column, a byte for each column. So the bits of a row of a square lie in eight bytes as
/// the codes of its cells do in a patch.
///
/// A row of words and one more lie before the first row, and a row and as many as are worked on together after the last; the
/// last column of a row holds no cell. So the squares around a square are always at fixed offsets.
#[derive(Debug, Default)]
pub(crate) struct Bits {
    /// Of the patch that the cells lie in.
    stride: usize,
    /// Squares in a row.
    pub(crate) across: usize,
    pub(crate) words: Vec<u64>,
}

impl Bits {
    /// Takes on the size of a tile, without any cell.
    pub(crate) fn clear(&mut self, cols: usize, rows: usize) {
        self.stride = cols + 2;
        self.across = (self.stride + 1).div_ceil(SIDE);
        let down = (rows + 2).div_ceil(SIDE);
        self.words.clear();
        self.words.resize((down + 2) * self.across + 1 + LANES, 0);
    }

    /// The same for the size of another set.
    pub(crate) fn clear_like(&mut self, other: &Self) {
        (self.stride, self.across) = (other.stride, other.across);
        self.words.clear();
        self.words.resize(other.words.len(), 0);
    }

    /// Takes in the cells of another set and no others.
    pub(crate) fn copy(&mut self, other: &Self) {
        (self.stride, self.across) = (other.stride, other.across);
        self.words.clone_from(&other.words);
    }

    /// The positions of the words of each row of squares.
    pub(crate) fn rows(&self) -> impl Iterator<Item = std::ops::Range<usize>> + use<> {
        let across = self.across;
        (0..(self.words.len() - LANES - 1) / across - 2).map(move |row| {
            let start = (row + 1) * across + 1;
            start..start + across
        })
    }

    fn place(&self, cell: usize) -> (usize, usize) {
        let (col, row) = (cell % self.stride, cell / self.stride);
        ((row / SIDE + 1) * self.across + 1 + col / SIDE, col % SIDE * SIDE + row % SIDE)
    }

    pub(crate) fn insert(&mut self, cell: usize) {
        let (word, bit) = self.place(cell);
        self.words[word] |= 1 << bit;
    }

    pub(crate) fn contains(&self, cell: usize) -> bool {
        let (word, bit) = self.place(cell);
        self.words[word] >> bit & 1 == 1
    }

    /// Takes a cell out, if it is there; returns its word and its bit.
    pub(crate) fn remove(&mut self, cell: usize) -> Option<(usize, u64)> {
        let (word, bit) = self.place(cell);
        let was = self.words[word] & 1 << bit;
        self.words[word] ^= was;
        (was != 0).then_some((word, was))
    }

    /// Cells by position in the patch whose bits are set in the word at a position.
    pub(crate) fn cells_in(&self, word: usize, bits: u64) -> impl Iterator<Item = usize> + use<> {
        let stride = self.stride;
        let (row, col) = ((word - 1) / self.across - 1, (word - 1) % self.across);
        let first = row * SIDE * stride + col * SIDE;
        ones(bits).map(move |bit| first + bit % SIDE * stride + bit / SIDE)
    }

    /// Writes eight codes at once, as a row of a square and what stood there say, to cells of the word at a position.
    #[inline]
    pub(crate) fn write(&self, word: usize, cells: u64, to: &mut Patch<u8>, codes: impl Fn(usize, u64) -> u64) {
        let (row, col) = ((word - 1) / self.across - 1, (word - 1) % self.across);
        let first = row * SIDE * self.stride + col * SIDE;
        for row in (0..SIDE).filter(|row| cells >> row & NORTH != 0) {
            let at = first + row * self.stride;
            let to = &mut to.values[at..];
            let written = in_bytes(cells >> row);
            let blend = |known: u64| known & !written | codes(row, known) & written;
            if let Some(to) = to.first_chunk_mut::<SIDE>() {
                *to = blend(u64::from_le_bytes(*to)).to_le_bytes();
            } else {
                let mut known = [0; SIDE];
                known[..to.len()].copy_from_slice(to);
                to.copy_from_slice(&blend(u64::from_le_bytes(known)).to_le_bytes()[..to.len()]);
            }
        }
    }

    /// The words that are not empty, with their positions.
    pub(crate) fn filled(&self) -> impl Iterator<Item = (usize, u64)> + '_ {
        self.words.iter().copied().enumerate().filter(|&(_, cells)| cells != 0)
    }

    /// Becomes what a word of each of two other sets makes.
    pub(crate) fn set_to(&mut self, others: [&Self; 2], word: impl Fn(u64, u64) -> u64) {
        (self.stride, self.across) = (others[0].stride, others[0].across);
        self.words.clear();
        self.words.extend(others[0].words.iter().zip(&others[1].words).map(|(&a, &b)| word(a, b)));
    }
}

/// Eight bytes of which each is filled where its last bit is set.
#[inline]
pub(crate) fn in_bytes(bits: u64) -> u64 {
    (bits & NORTH) * u64::from(u8::MAX)
}

/// The cells of a square and those around them in it.
pub(crate) fn grown(cells: u64) -> u64 {
    let high = higher(cells);
    high | high << SIDE | high >> SIDE
}

/// The cells of a square and those above and below them in it.
fn higher(cells: u64) -> u64 {
    cells | (cells & !SOUTH) << 1 | (cells & !NORTH) >> 1
}

/// Tells the squares beside a square that hold cells around some of its cells: the position of the word, and these cells.
#[inline]
pub(crate) fn beyond(word: usize, across: usize, cells: u64, mut report: impl FnMut(usize, u64)) {
    if cells & (WEST | EAST | NORTH | SOUTH) == 0 {
        return;
    }
    let wide = cells | cells << SIDE | cells >> SIDE;
    let high = higher(cells);
    let beside = [
        (word - across, (wide & NORTH) << LAST),
        (word + across, (wide & SOUTH) >> LAST),
        (word - 1, high << (SIDE * LAST)),
        (word + 1, high >> (SIDE * LAST)),
    ];
    for (word, cells) in beside {
        if cells != 0 {
            report(word, cells);
        }
    }
    if cells & CORNERS != 0 {
        report(word - across - 1, (cells & 1) << (SIDE * SIDE - 1));
        report(word + across + 1, cells >> (SIDE * SIDE - 1));
        report(word - across + 1, (cells >> (SIDE * LAST) & 1) << LAST);
        report(word + across - 1, (cells >> LAST & 1) << (SIDE * LAST));
    }
}

/// The positions of the bits that are set.
pub(crate) fn ones(mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let bit = bits.trailing_zeros() as usize;
        bits &= bits.wrapping_sub(1);
        (bit < 64).then_some(bit)
    })
}

/// A set as it is kept: the words that are not empty.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PackedBits {
    at: Vec<u32>,
    words: Vec<u64>,
}

impl PackedBits {
    pub(crate) fn of(bits: &Bits) -> Self {
        Self::of_words(bits.words.iter().copied())
    }

    fn of_words(words: impl Iterator<Item = u64>) -> Self {
        let mut packed = Self::default();
        for (at, word) in words.enumerate().filter(|&(_, word)| word != 0) {
            packed.at.push(at as u32);
            packed.words.push(word);
        }
        packed.at.shrink_to_fit();
        packed.words.shrink_to_fit();
        packed
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// Puts the cells in a set of the tile's size.
    pub(crate) fn unpack(&self, bits: &mut Bits) {
        for (&at, &word) in self.at.iter().zip(&self.words) {
            bits.words[at as usize] = word;
        }
    }
}

/// Sent as the positions at which runs of cells begin and end, by turns.
impl Serialize for PackedBits {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut bounds: Vec<u32> = Vec::new();
        let mut open_until = None;
        for (&at, &word) in self.at.iter().zip(&self.words) {
            let runs_on = open_until == Some(at);
            if let Some(end) = open_until.take_if(|_| !runs_on) {
                bounds.push(end * 64);
            }
            let changes = word ^ (word << 1 | u64::from(runs_on));
            bounds.extend(ones(changes).map(|bit| at * 64 + bit as u32));
            open_until = (word >> 63 == 1).then_some(at + 1);
        }
        bounds.extend(open_until.map(|end| end * 64));
        deltas::serialize(&bounds, serializer)
    }
}

impl<'de> Deserialize<'de> for PackedBits {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let bounds = deltas::deserialize(deserializer)?;
        let mut words = vec![0_u64; bounds.last().map_or(0, |&last| last as usize / 64 + 1)];
        for run in bounds.chunks_exact(2) {
            for position in run[0]..run[1] {
                words[position as usize / 64] |= 1 << (position % 64);
            }
        }
        Ok(Self::of_words(words.into_iter()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(packed: &PackedBits) -> PackedBits {
        postcard::from_bytes(&postcard::to_stdvec(packed).unwrap()).unwrap()
    }

    #[test]
    fn a_set_is_the_same_after_packing_and_sending() {
        for (cols, rows) in [(1, 1), (62, 3), (63, 2), (64, 2), (65, 2), (200, 4)] {
            for every in [1, 2, 3, 7, 64] {
                let mut bits = Bits::default();
                bits.clear(cols, rows);
                let stride = cols + 2;
                let inside = (1..=rows).flat_map(|row| (1..=cols).map(move |col| row * stride + col));
                let cells: Vec<usize> = inside.step_by(every).collect();
                for &cell in &cells {
                    bits.insert(cell);
                }
                let packed = sent(&PackedBits::of(&bits));
                let mut again = Bits::default();
                again.clear(cols, rows);
                packed.unpack(&mut again);
                let mut found: Vec<usize> =
                    again.filled().flat_map(|(word, bits)| again.cells_in(word, bits)).collect();
                found.sort_unstable();
                assert_eq!(found, cells, "{cols} x {rows}, every {every}");
            }
        }
    }
}
