//! Flow direction codes.
//!
//! *References*: WMO-No. 306, Manual on Codes, code table 0700 (direction in eight compass points; 0 = none). Codes 10 and
//! 255 are our own additions.

use std::f64::consts::SQRT_2;

use fallwright_units::{Frame, NEIGHBOURS};

/// Water ends here: at the edge of the data, beside missing data, or in a kept depression.
pub const ENDS: u8 = 0;
/// A structure (culvert, pipe, tile main) carries the water on; its other end is in the links.
pub const CARRIED: u8 = 10;
/// No elevation.
pub const NODATA: u8 = 255;

/// Marks a cell that lies on a flat until the flat is resolved; never leaves this crate.
pub(crate) const ON_FLAT: u8 = 254;

/// The code for a position in [`NEIGHBOURS`].
pub const fn of_neighbour(position: usize) -> u8 {
    position as u8 + 1
}

/// Column and row step of a code from 1 to 8; `None` for the others.
pub fn step(code: u8) -> Option<(i32, i32)> {
    NEIGHBOURS.get(usize::from(code).checked_sub(1)?).copied()
}

/// Every code with the words that people are shown.
pub const NAMES: [(u8, &str); 11] = [
    (ENDS, "ends here"),
    (1, "north-east"),
    (2, "east"),
    (3, "south-east"),
    (4, "south"),
    (5, "south-west"),
    (6, "west"),
    (7, "north-west"),
    (8, "north"),
    (CARRIED, "carried by a structure"),
    (NODATA, "no elevation"),
];

/// Distance to each neighbour in units of the cell width; √2 for the diagonal of a square cell.
pub(crate) fn neighbour_distances(frame: &Frame) -> [f64; 8] {
    let ratio = frame.cell_height() / frame.cell_width();
    let diagonal = if ratio == 1.0 { SQRT_2 } else { 1.0_f64.hypot(ratio) };
    NEIGHBOURS.map(|step| match step {
        (0, _) => ratio,
        (_, 0) => 1.0,
        _ => diagonal,
    })
}
