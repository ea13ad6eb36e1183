//! The block's plan: where the frame, the road allowances and the lot lines lie.
//!
//! The program works in plan coordinates `(u, v)`: metres east and north of the frame's south-west corner. Map
//! coordinates are EPSG:26917; the corner is put into the open water of Lake Huron so that nobody can take the township
//! for a real one.

use fallwright_units::Frame;
use geo::{Coord, coord};

/// The projected coordinate reference system of the case: NAD83 / UTM zone 17N, metres.
pub const CRS: &str = "EPSG:26917";
const WEST: f64 = 400_000.0;
const SOUTH: f64 = 4_850_000.0;
/// East-west and north-south size of the elevation raster in metres.
pub(crate) const SIZE: (f64, f64) = (4_000.0, 3_000.0);
pub(crate) const CELL: f64 = 2.0;

/// Half the width of a road allowance (our choice, as all measures of the plan).
pub(crate) const ALLOWANCE_HALF: f64 = 10.0;
/// From a road's centre line to the ends of its culverts: just outside the embankment.
pub(crate) const CULVERT_OFFSET: f64 = 7.0;
/// From a road's centre line to its side ditches.
pub(crate) const DITCH_OFFSET: f64 = 9.0;

/// West and east sides of lots 1 to 9; a collar of 40 m of unowned land surrounds the block.
pub(crate) const LOT_SIDES: [(f64, f64); 9] = [
    (40.0, 470.0),
    (470.0, 900.0),
    (900.0, 1_330.0),
    (1_350.0, 1_781.6),
    (1_781.6, 2_217.0),
    (2_217.0, 2_650.0),
    (2_670.0, 3_100.4),
    (3_100.4, 3_530.0),
    (3_530.0, 3_960.0),
];
/// South side, half-lot line and north side of concessions I to III.
pub(crate) const CONCESSION_SIDES: [(f64, f64, f64); 3] =
    [(40.0, 510.0, 980.0), (1_000.0, 1_490.0, 1_980.0), (2_000.0, 2_480.4, 2_960.0)];

/// Which way a road runs, with the plan coordinate of its centre line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Line {
    /// East and west along a `v`.
    Row(f64),
    /// North and south along a `u`.
    Column(f64),
}

impl Line {
    /// Signed distance of a point from the line: north of a row, east of a column.
    pub(crate) fn offset(self, (u, v): (f64, f64)) -> f64 {
        match self {
            Self::Row(at) => v - at,
            Self::Column(at) => u - at,
        }
    }

    /// The same line moved to its north or east.
    pub(crate) fn moved(self, by: f64) -> Self {
        match self {
            Self::Row(at) => Self::Row(at + by),
            Self::Column(at) => Self::Column(at + by),
        }
    }
}

/// The four roads: id, name, centre line. All names are invented.
pub(crate) const ROADS: [(&str, &str, Line); 4] = [
    ("R-1", "Millrace Line", Line::Row(990.0)),
    ("R-2", "Teasel Line", Line::Row(1_990.0)),
    ("R-3", "Sideroad 3", Line::Column(1_340.0)),
    ("R-4", "Sideroad 6", Line::Column(2_660.0)),
];

/// The elevation raster's frame.
pub(crate) fn frame() -> Frame {
    let (cols, rows) = ((SIZE.0 / CELL) as usize, (SIZE.1 / CELL) as usize);
    Frame::new(cols, rows, (WEST, SOUTH + SIZE.1), (CELL, CELL)).expect("the plan's constants make a valid frame")
}

/// Map coordinates of a point of the plan.
pub(crate) fn on_map((u, v): (f64, f64)) -> Coord {
    coord! { x: WEST + u, y: SOUTH + v }
}

/// Plan coordinates of a point of the map.
pub(crate) fn on_plan((x, y): (f64, f64)) -> (f64, f64) {
    (x - WEST, y - SOUTH)
}
