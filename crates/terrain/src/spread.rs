//! Flow accumulation spread over two receivers, for the picture of wetness only.

use std::f64::consts::FRAC_PI_2;

use fallwright_units::{Cell, Frame, Raster};
use rayon::prelude::*;

use crate::direction;
use crate::flow::Flow;
use crate::surface::is_outlet;

/// Units that fall on one cell. Our choice: a millionth of a cell is finer than any picture shows, and 2⁶⁴ units hold
/// 2⁴⁴ cells, more than any raster.
pub const UNITS_PER_CELL: u64 = 1 << 20;

/// The direction of steepest fall on the triangular facets around a cell, and the two cells that share its water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Facet {
    /// Counter-clockwise from east, 0 to 2π.
    pub angle_radians: f64,
    /// Metres of fall per metre; positive.
    pub slope: f64,
    /// The facet's neighbour to the north, east, south or west.
    pub first: Cell,
    /// The facet's diagonal neighbour.
    pub second: Cell,
    /// The part of the water that goes to `first`, 0 to 1; the rest goes to `second`.
    pub first_share: f64,
}

/// The steepest fall among the eight triangular facets that a cell's centre forms with two adjacent neighbours.
///
/// A facet is a plane through three centres. Where its steepest fall points outside it, the fall along the nearer of its
/// two sides stands for it. The water is divided by how close the direction is, as an angle, to each of the two neighbours.
/// *Ties* go to the first facet counter-clockwise from east. `None` where there is no elevation, where no neighbour is
/// lower, and at the edge of the data and beside missing data, where some facets are unknown.
///
/// A neighbour with a share is always strictly lower: inside a facet the ground falls from the cell to `first` and from
/// `first` to `second`; along a side it falls to that side's end, which takes all.
///
/// *Units*: `surface` in metres; cells need not be square.
///
/// *Complexity*: O(1).
///
/// *References*: D. G. Tarboton (1997), A new method for the determination of flow directions and upslope areas in grid
/// digital elevation models, Water Resources Research 33(2), 309–319.
pub fn facet_direction(surface: &Raster<f32>, cell: Cell) -> Option<Facet> {
    let steepest = steepest_facet(surface, cell)?;
    let [first, second] = ends(steepest.number).map(|step| surface.frame.step(cell, step));
    let (turn, first_share) = steepest.turn_and_first_share(&surface.frame);
    let axis = f64::from(steepest.number.div_ceil(2)) * FRAC_PI_2;
    Some(Facet {
        angle_radians: if steepest.number % 2 == 0 { axis + turn } else { axis - turn },
        slope: steepest.slope,
        first: first?,
        second: second?,
        first_share,
    })
}

/// The water that drains through each cell, itself included, in units of 1 / [`UNITS_PER_CELL`] cell; 0 where there is no
/// data.
///
/// Each cell divides its units between the two neighbours of its steepest facet ([`facet_direction`]): the share of the
/// first is taken to 2⁻³¹ and its units are rounded down, the remainder goes to the second. Nothing is lost to rounding:
/// the units at the cells where water ends sum to `UNITS_PER_CELL` × the cells with data. Cells on flats, at the edge of
/// the data and beside missing data pass everything on by the single-direction flow, as do inlets of links; in kept
/// depressions water ends.
///
/// No water runs in a circle. A transfer either goes to a strictly lower cell or follows the single-direction flow, which
/// never rises. Levels along a circle would all be equal, so each of its transfers would be one of the single-direction
/// flow, and that has no circle.
///
/// A picture of where the ground is wet: spread water has no one path, so nothing about whose water goes where follows
/// from it.
///
/// *Units*: `surface` in metres, the filled surface from which `flow` was made.
///
/// *Complexity*: O(n) for n cells; facets in parallel by rows, then cells in topological order one after the other.
///
/// *References*: Tarboton (1997), see [`facet_direction`].
///
/// *Panics*: on a surface of another size than the flow's.
pub fn spread_accumulation(surface: &Raster<f32>, flow: &Flow) -> Raster<u64> {
    let frame = surface.frame;
    let onward = all_onward(surface, flow);
    let mut donors = vec![0_u32; frame.len()];
    let mut units = Raster::filled(frame, 0_u64);
    for cell in (0..frame.len()).map(Cell).filter(|&cell| flow.has_data(cell)) {
        units[cell] = UNITS_PER_CELL;
        for (next, _) in onward[cell].parts(flow, cell, 0) {
            donors[next.0] += 1;
        }
    }
    let mut ready: Vec<Cell> = (0..frame.len()).map(Cell).filter(|&c| flow.has_data(c) && donors[c.0] == 0).collect();
    while let Some(cell) = ready.pop() {
        for (next, part) in onward[cell].parts(flow, cell, units[cell]) {
            units[next] += part;
            donors[next.0] -= 1;
            if donors[next.0] == 0 {
                ready.push(next);
            }
        }
    }
    units
}

/// Column and row steps to the neighbours north, east, south or west and diagonal of each facet, counter-clockwise from
/// east.
const FACETS: [[(i32, i32); 2]; 8] = [
    [(1, 0), (1, -1)],
    [(0, -1), (1, -1)],
    [(0, -1), (-1, -1)],
    [(-1, 0), (-1, -1)],
    [(-1, 0), (-1, 1)],
    [(0, 1), (-1, 1)],
    [(0, 1), (1, 1)],
    [(1, 0), (1, 1)],
];

fn ends(facet: u8) -> [(i32, i32); 2] {
    FACETS[usize::from(facet)]
}

/// The steepest fall on one facet.
struct Fall {
    /// Position in [`FACETS`].
    number: u8,
    /// Fall per metre toward the first neighbour.
    along: f64,
    /// Fall per metre from the first neighbour to the second.
    across: f64,
    slope: f64,
}

fn steepest_facet(surface: &Raster<f32>, cell: Cell) -> Option<Fall> {
    if is_outlet(surface, cell) {
        return None;
    }
    let mut steepest: Option<Fall> = None;
    for number in 0..8 {
        let fall = fall_on(surface, cell, number)?;
        // A comparison with missing data (NaN) is false.
        if fall.slope > steepest.as_ref().map_or(0.0, |best| best.slope) {
            steepest = Some(fall);
        }
    }
    steepest
}

fn fall_on(surface: &Raster<f32>, cell: Cell, number: u8) -> Option<Fall> {
    let [first, second] = ends(number);
    let level = |step| Some(f64::from(surface[surface.frame.step(cell, step)?]));
    let (here, at_first, at_second) = (f64::from(surface[cell]), level(first)?, level(second)?);
    let (along_m, across_m) = legs(&surface.frame, number);
    let along = (here - at_first) / along_m;
    let across = (at_first - at_second) / across_m;
    let slope = if across <= 0.0 {
        along
    } else if across * along_m >= along * across_m {
        (here - at_second) / along_m.hypot(across_m)
    } else {
        along.hypot(across)
    };
    Some(Fall { number, along, across, slope })
}

/// Metres from a cell to a facet's first neighbour, and from there to its second.
fn legs(frame: &Frame, facet: u8) -> (f64, f64) {
    match ends(facet) {
        [(_, 0), _] => (frame.cell_width(), frame.cell_height()),
        _ => (frame.cell_height(), frame.cell_width()),
    }
}

impl Fall {
    /// The angle from the first neighbour toward the second, and the share of the first.
    fn turn_and_first_share(&self, frame: &Frame) -> (f64, f64) {
        let (along_m, across_m) = legs(frame, self.number);
        let widest = across_m.atan2(along_m);
        let turn = self.across.atan2(self.along).clamp(0.0, widest);
        (turn, (widest - turn) / widest)
    }
}

/// A whole, in the integers that shares are counted in.
const WHOLE: u32 = 1 << 31;

/// Where a cell's water goes; small, since one is kept for every cell.
#[derive(Clone, Copy)]
enum Onward {
    SingleDirection,
    Spread { facet: u8, first_share: u32 },
}

impl Onward {
    fn of(surface: &Raster<f32>, flow: &Flow, cell: Cell) -> Self {
        if matches!(flow.direction[cell], direction::ENDS | direction::CARRIED) {
            return Self::SingleDirection;
        }
        steepest_facet(surface, cell).map_or(Self::SingleDirection, |fall| Self::Spread {
            facet: fall.number,
            first_share: (fall.turn_and_first_share(&surface.frame).1 * f64::from(WHOLE)) as u32,
        })
    }

    /// The receivers of a cell that holds `units`, each with its part; a neighbour without a share is no receiver.
    fn parts(self, flow: &Flow, cell: Cell, units: u64) -> impl Iterator<Item = (Cell, u64)> {
        let parts = match self {
            Self::SingleDirection => [flow.receiver(cell).map(|next| (next, units)), None],
            Self::Spread { facet, first_share } => {
                let [first, second] = ends(facet).map(|step| flow.direction.frame.step(cell, step));
                // At most `units`, since a share is at most the whole.
                let to_first = ((u128::from(units) * u128::from(first_share)) / u128::from(WHOLE)) as u64;
                [
                    first.filter(|_| first_share > 0).map(|next| (next, to_first)),
                    second.filter(|_| first_share < WHOLE).map(|next| (next, units - to_first)),
                ]
            }
        };
        parts.into_iter().flatten()
    }
}

fn all_onward(surface: &Raster<f32>, flow: &Flow) -> Raster<Onward> {
    let frame = surface.frame;
    let mut onward = Raster::filled(frame, Onward::SingleDirection);
    onward.values.par_chunks_mut(frame.cols()).enumerate().for_each(|(row, values)| {
        for (col, value) in values.iter_mut().enumerate() {
            *value = Onward::of(surface, flow, frame.cell(col, row));
        }
    });
    onward
}
