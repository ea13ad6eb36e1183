//! What the rows of a tile say of its flat cells: which lie beside a low edge, and which beside higher ground.

use multiversion::multiversion;

use super::patch::Patch;
use crate::direction;
use crate::flow::ON_FLAT;

/// Set for every flat cell.
const FLAT: u8 = 1 << 7;
const BESIDE_HIGHER: u8 = 1 << 6;
/// The direction to the low edge, 0 where it is not beside the cell.
const TO_LOW_EDGE: u8 = (1 << 6) - 1;

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

    pub(crate) fn is_beside_higher(&self, cell: usize) -> bool {
        self.of.values[cell] & BESIDE_HIGHER != 0
    }

    /// The direction to the low edge where it is beside a flat cell; ties go to the lowest code.
    pub(crate) fn to_low_edge(&self, cell: usize) -> Option<u8> {
        Some(self.of.values[cell] & TO_LOW_EDGE).filter(|&code| code != 0)
    }

    /// Whether some of these flat cells are not beside a low edge.
    pub(crate) fn has_inner(&self, cells: std::ops::Range<usize>) -> bool {
        self.of.values[cells].iter().any(|shore| shore & TO_LOW_EDGE == 0)
    }

    /// Gives every cell beside a low edge the direction to it.
    pub(crate) fn drain(&self, code: &mut Patch<u8>) {
        for row in 0..code.rows {
            let range = code.row(row);
            for (code, shore) in code.values[range.clone()].iter_mut().zip(&self.of.values[range]) {
                let to = shore & TO_LOW_EDGE;
                *code = if to == 0 { *code } else { to };
            }
        }
    }
}

#[multiversion(targets = "simd")]
fn look(surface: &Patch<f32>, code: &Patch<u8>, low: &Patch<f32>, of: &mut Patch<u8>) {
    for row in 0..code.rows {
        let (cols, stride, start) = (code.cols, code.stride, code.at(0, row));
        let codes = &code.values[start..][..cols];
        let to = &mut of.values[start..][..cols];
        if !codes.contains(&ON_FLAT) {
            to.fill(0);
            continue;
        }
        let here = &surface.values[start..][..cols];
        let beside = around(&surface.values, start, stride, cols);
        let low = around(&low.values, start, stride, cols);
        for col in 0..cols {
            let level = here[col];
            let (mut first, mut higher) = (0_u32, 0_u32);
            // The last look decides: ties go to the lowest code.
            for position in (0..8).rev() {
                first = if low[position][col] == level { position as u32 + 1 } else { first };
                higher = if beside[position][col] > level { u32::from(BESIDE_HIGHER) } else { higher };
            }
            let shore = (first | higher) as u8 | FLAT;
            to[col] = if codes[col] == ON_FLAT { shore } else { 0 };
        }
    }
}

/// The lines of neighbours of a row that starts at a position, in the order of [`fallwright_units::NEIGHBOURS`].
fn around(values: &[f32], start: usize, stride: usize, cols: usize) -> [&[f32]; 8] {
    let (north, south) = (start - stride, start + stride);
    [north + 1, start + 1, south + 1, south, south - 1, start - 1, north - 1, north].map(|from| &values[from..][..cols])
}

const _: () = assert!(direction::of_neighbour(7) <= TO_LOW_EDGE, "codes must fit beside the marks");
