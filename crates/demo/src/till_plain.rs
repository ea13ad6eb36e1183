//! The land before anybody dug or built on it: a till plain that falls to the channels.
//!
//! Every channel lifts a gently rising valley to both sides; the land is the smooth minimum of those valleys, so the
//! divides lie where two of them meet. Soft swells are added and closed hollows levelled out on a 10 m lattice, which a
//! cubic B-spline then carries to any point.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::bed_line::BedLine;
use crate::channel::{Channel, WaterwayClass};
use crate::noise::noise;
use crate::plan::{ROADS, SIZE};

const SPACING: f64 = 10.0;
/// Lattice nodes beyond each side of the frame, for the spline.
const MARGIN: usize = 2;
/// Least fall of the levelled lattice from node to node: 0.08 %.
const LEAST_FALL: f64 = 0.008;
/// Rounding of the divides, in metres of height.
const BLEND: f64 = 0.5;

/// Places outside the block, or a spot in it, that draw water although no channel is mapped: points along them, and the
/// elevation that the land has there.
const DRAWS: [([(f64, f64); 2], f64); 3] = [
    // West side of concession II: sheet flow over the block's edge.
    ([(-150.0, 1_250.0), (-150.0, 1_380.0)], 196.7),
    // South-east corner: the same.
    ([(4_150.0, -100.0), (4_150.0, 380.0)], 194.5),
    // A hollow in concession I whose bottom the elevation survey missed.
    ([(1_551.0, 261.0), (1_571.0, 261.0)], 197.85),
];

/// Heights of the undisturbed land on a lattice.
pub(crate) struct TillPlain {
    cols: usize,
    heights: Vec<f64>,
}

/// One valley or draw that shapes the land around it.
struct Valley<'a> {
    line: &'a BedLine,
    lift: f64,
    creek: bool,
}

impl TillPlain {
    pub(crate) fn shaped_by(channels: &[Channel]) -> Self {
        let draws = DRAWS.map(|(ends, height)| BedLine { points: ends.to_vec(), bed: vec![height; 2] });
        let mut valleys: Vec<Valley> = channels
            .iter()
            .map(|channel| Valley {
                line: &channel.line,
                lift: channel.section.depth,
                creek: channel.class == Some(WaterwayClass::NaturalWatercourse),
            })
            .collect();
        valleys.extend(draws.iter().map(|line| Valley { line, lift: 0.0, creek: false }));
        let size = |metres: f64| (metres / SPACING) as usize + 1 + 2 * MARGIN;
        let (cols, rows) = (size(SIZE.0), size(SIZE.1));
        let nodes = (0..rows).flat_map(|row| (0..cols).map(move |col| node(col, row)));
        let (mut heights, open): (Vec<f64>, Vec<bool>) =
            nodes.map(|point| natural_height(&valleys, channels.len(), point)).unzip();
        level_hollows(&mut heights, &open, cols);
        Self { cols, heights }
    }

    /// Height at a point of the plan, in metres.
    pub(crate) fn at(&self, (u, v): (f64, f64)) -> f64 {
        let (gu, gv) = (u / SPACING + MARGIN as f64, v / SPACING + MARGIN as f64);
        let (col, row) = (gu.floor(), gv.floor());
        let (across, up) = (spline_weights(gu - col), spline_weights(gv - row));
        let first = (row as usize - 1) * self.cols + col as usize - 1;
        let along = |line: usize| -> f64 {
            let start = first + line * self.cols;
            across.iter().zip(&self.heights[start..start + 4]).map(|(w, z)| w * z).sum()
        };
        up.iter().enumerate().map(|(line, weight)| weight * along(line)).sum()
    }
}

fn node(col: usize, row: usize) -> (f64, f64) {
    ((col as f64 - MARGIN as f64) * SPACING, (row as f64 - MARGIN as f64) * SPACING)
}

/// Height of the land at a point, and whether water is drawn away there.
fn natural_height(valleys: &[Valley], channels: usize, point: (f64, f64)) -> (f64, bool) {
    let slope = 0.0032 * (1.0 + 0.45 * noise(1, 900.0, point));
    let (mut height, mut to_channel) = (f64::INFINITY, f64::INFINITY);
    let mut lowest = [f64::INFINITY; 2];
    for (index, valley) in valleys.iter().enumerate() {
        let (side, distance) = valley_side(valley, slope, point);
        height = smooth_minimum(height, side);
        to_channel = to_channel.min(distance);
        let kind = usize::from(index >= channels);
        lowest[kind] = lowest[kind].min(side);
    }
    let away = (to_channel / 160.0).min(1.0);
    let swell = 0.5 * noise(2, 760.0, point) + 0.2 * noise(3, 340.0, point);
    let edge = edge_distance(point);
    let [by_channel, by_draw] = lowest;
    let open = to_channel < 0.9 * SPACING || (by_draw < by_channel && edge < SPACING);
    // Where the land falls to a channel of the block, a faint rise keeps its water from the edge of the frame.
    let rim = 0.3 * ramp(1.0 - edge / 160.0) * ramp(by_draw - by_channel);
    (height + away * (swell + rim + sideroad_ridge(point)), open)
}

/// Height of the land that a valley alone would make at a point, and the point's distance from the valley's line.
///
/// Every segment counts, not only the nearest: the height then stays continuous where two arms of a bend are equally far.
fn valley_side(valley: &Valley, slope: f64, point: (f64, f64)) -> (f64, f64) {
    valley.line.segments().fold((f64::INFINITY, f64::INFINITY), |(height, distance), segment| {
        let nearest = segment.nearest(point);
        let side = nearest.bed + valley.lift + rise(nearest.distance, slope, valley.creek);
        (height.min(side), distance.min(nearest.distance))
    })
}

/// Height above a channel's bank at a distance from it.
fn rise(distance: f64, slope: f64, creek: bool) -> f64 {
    let valley_side = if creek { 1.25 * ramp((distance - 10.0) / 75.0) } else { 0.0 };
    valley_side + slope * (distance - 4.0).max(0.0)
}

/// Sideroads were laid out along the heights of land.
fn sideroad_ridge(point: (f64, f64)) -> f64 {
    ROADS[2..].iter().map(|(_, _, line)| 0.6 * ramp(1.0 - line.offset(point).abs() / 170.0)).sum()
}

fn edge_distance((u, v): (f64, f64)) -> f64 {
    u.min(SIZE.0 - u).min(v).min(SIZE.1 - v).max(0.0)
}

/// 0 to 1 with level ends.
fn ramp(share: f64) -> f64 {
    let t = share.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// The lower of two heights with the edge between them rounded off.
fn smooth_minimum(a: f64, b: f64) -> f64 {
    if a.is_infinite() {
        return b;
    }
    let near = (BLEND - (a - b).abs()).max(0.0) / BLEND;
    a.min(b) - near * near * BLEND / 4.0
}

/// Raises nodes until each has a neighbour at least `LEAST_FALL` lower, starting from the open ones.
fn level_hollows(heights: &mut [f64], open: &[bool], cols: usize) {
    let mut reached = open.to_vec();
    // Heights are positive, so their bit patterns sort as the heights do.
    let mut queue: BinaryHeap<Reverse<(u64, usize)>> =
        (0..heights.len()).filter(|&at| open[at]).map(|at| Reverse((heights[at].to_bits(), at))).collect();
    while let Some(Reverse((bits, at))) = queue.pop() {
        let (col, row) = (at % cols, at / cols);
        for next_row in row.saturating_sub(1)..(row + 2).min(heights.len() / cols) {
            for next_col in col.saturating_sub(1)..(col + 2).min(cols) {
                let next = next_row * cols + next_col;
                if !reached[next] {
                    reached[next] = true;
                    heights[next] = heights[next].max(f64::from_bits(bits) + LEAST_FALL);
                    queue.push(Reverse((heights[next].to_bits(), next)));
                }
            }
        }
    }
}

/// Weights of four neighbouring nodes in a uniform cubic B-spline.
fn spline_weights(t: f64) -> [f64; 4] {
    let s = 1.0 - t;
    [
        s * s * s / 6.0,
        (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
        (3.0 * s * s * s - 6.0 * s * s + 4.0) / 6.0,
        t * t * t / 6.0,
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levelling_leaves_no_hollow() {
        let mut heights = vec![5.0, 5.0, 5.0, 5.0, 5.0, 1.0, 5.0, 2.0, 5.0, 5.0, 5.0, 5.0];
        let mut open = vec![false; 12];
        open[7] = true;
        level_hollows(&mut heights, &open, 4);
        assert_eq!(heights[7], 2.0);
        assert_eq!(heights[6], 5.0);
        assert!((heights[5] - (5.0 + LEAST_FALL)).abs() < 1e-12);
    }

    #[test]
    fn spline_weights_sum_to_one() {
        for step in 0..=10 {
            let sum: f64 = spline_weights(f64::from(step) / 10.0).iter().sum();
            assert!((sum - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_smooth_minimum_never_exceeds_either() {
        assert_eq!(smooth_minimum(1.0, 3.0), 1.0);
        assert!((smooth_minimum(2.0, 2.0) - (2.0 - BLEND / 4.0)).abs() < 1e-12);
    }
}
