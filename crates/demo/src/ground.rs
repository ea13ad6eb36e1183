//! The ground as a survey would see it: the land with its field-scale roughness, channels, road embankments, a pothole
//! and a hole in the data.

use fallwright_units::{Cell, Frame, Raster};

use crate::bed_line::BedLine;
use crate::channel::{Channel, Section};
use crate::geometry::{between, centimetres, distance, millimetres};
use crate::noise::noise;
use crate::plan::{CELL, Line, ROADS, SIZE, frame, on_map, on_plan};
use crate::till_plain::TillPlain;

/// Half the width of a road's crown, and of its embankment at the foot.
const CROWN_HALF: f64 = 4.0;
const FOOT_HALF: f64 = 6.0;
/// Fall of an embankment's sides, rise over run.
const EMBANKMENT_SLOPE: f64 = 0.5;

/// The pothole's depth below its rim, in metres.
const POTHOLE_DEPTH: f64 = 0.6;
/// Centre and half axes of the pothole's rim in the plan.
const POTHOLE: ((f64, f64), (f64, f64)) = ((2_385.0, 2_765.0), (62.0, 41.0));
/// Centre and half axes of the hole in the elevation data.
const HOLE: ((f64, f64), (f64, f64)) = ((1_561.0, 261.0), (17.0, 11.0));

/// Elevations in metres, to the millimetre.
pub(crate) fn ground(channels: &[Channel], land: &TillPlain) -> Raster<f32> {
    let frame = frame();
    let mut heights =
        Raster { frame, values: (0..frame.len()).map(|at| surface(land, centre(&frame, Cell(at)))).collect() };
    sink_pothole(&mut heights, land);
    for channel in channels {
        for part in channel.open_parts() {
            dig(&mut heights, &part, channel.section);
        }
    }
    for (_, _, line) in ROADS {
        build_embankment(&mut heights, line, land);
    }
    // A trimmed mouth may stand above the next cell of the receiving channel, so all are walked until none changes.
    while channels.iter().any(|channel| trim_bed(&mut heights, channel)) {}
    let values = heights.values.iter().enumerate().map(|(at, &z)| surveyed(z, centre(&frame, Cell(at)))).collect();
    Raster { frame, values }
}

/// The cells that a line passes through, in its order.
pub(crate) fn cells_along(frame: &Frame, points: &[(f64, f64)]) -> Vec<Cell> {
    let mut cells: Vec<Cell> = Vec::new();
    for ends in points.windows(2) {
        let steps = (distance(ends[0], ends[1]) / (CELL / 4.0)).ceil().max(1.0);
        for step in 0..=steps as usize {
            let point = between(ends[0], ends[1], step as f64 / steps);
            if let Some(cell) = frame.cell_at(on_map(point).x_y())
                && cells.last() != Some(&cell)
            {
                cells.push(cell);
            }
        }
    }
    cells
}

fn centre(frame: &Frame, cell: Cell) -> (f64, f64) {
    on_plan(frame.centre(cell))
}

/// Land with tillage and settlement: swells of a centimetre or two over a few metres to tens of metres.
fn surface(land: &TillPlain, point: (f64, f64)) -> f64 {
    land.at(point) + 0.022 * noise(21, 46.0, point) + 0.008 * noise(22, 11.0, point)
}

fn sink_pothole(heights: &mut Raster<f64>, land: &TillPlain) {
    let rim = pothole_rim().into_iter().map(|point| land.at(point)).fold(f64::INFINITY, f64::min);
    let ((u, v), (half_u, half_v)) = POTHOLE;
    change_near(heights, ((u - 2.0 * half_u, u + 2.0 * half_u), (v - 2.0 * half_v, v + 2.0 * half_v)), |point, z| {
        z.min(rim - POTHOLE_DEPTH * (1.0 - pothole_share(point)))
    });
}

/// 0 at the pothole's middle, 1 along its wavering rim.
fn pothole_share(point: (f64, f64)) -> f64 {
    ellipse_share(POTHOLE, point) * (1.0 + 0.35 * noise(24, 110.0, point))
}

/// The pothole's rim, counter-clockwise: 48 corners in the plan.
pub(crate) fn pothole_rim() -> Vec<(f64, f64)> {
    let ((u, v), (half_u, half_v)) = POTHOLE;
    (0..48)
        .map(|step| std::f64::consts::TAU * f64::from(step) / 48.0)
        .map(|angle| {
            let (east, north) = (half_u * angle.cos(), half_v * angle.sin());
            let out = pothole_share((u + east, v + north)).sqrt().recip();
            (centimetres(u + out * east), centimetres(v + out * north))
        })
        .collect()
}

/// Digs a channel along its bed line.
fn dig(heights: &mut Raster<f64>, line: &BedLine, section: Section) {
    // Deep enough for a channel that cuts through land up to 3 m above its bed.
    let reach = section.bottom_half + 3.0 / section.side_slope;
    for segment in line.segments() {
        let [a, b]: [(f64, f64); 2] = segment.ends;
        let sides = ((a.0.min(b.0) - reach, a.0.max(b.0) + reach), (a.1.min(b.1) - reach, a.1.max(b.1) + reach));
        change_near(heights, sides, |point, z| {
            let nearest = segment.nearest(point);
            z.min(nearest.bed + section.height(nearest.distance))
        });
    }
}

/// Builds a road 0.8 m to 1.4 m above the land along its centre line.
fn build_embankment(heights: &mut Raster<f64>, line: Line, land: &TillPlain) {
    let sides = match line {
        Line::Row(v) => ((0.0, SIZE.0), (v - FOOT_HALF, v + FOOT_HALF)),
        Line::Column(u) => ((u - FOOT_HALF, u + FOOT_HALF), (0.0, SIZE.1)),
    };
    change_near(heights, sides, |(u, v), z| {
        let middle = match line {
            Line::Row(v) => (u, v),
            Line::Column(u) => (u, v),
        };
        let crown = land.at(middle) + 1.1 + 0.3 * noise(23, 420.0, middle);
        let beyond = (line.offset((u, v)).abs() - CROWN_HALF).max(0.0);
        z.max(crown - EMBANKMENT_SLOPE * beyond)
    });
}

/// Takes out what still stands higher in a channel's bed than the cell upstream of it, culverts passed over; says whether
/// anything did.
fn trim_bed(heights: &mut Raster<f64>, channel: &Channel) -> bool {
    let frame = heights.frame;
    let (mut lowest, mut changed) = (f64::INFINITY, false);
    for cell in channel.open_parts().iter().flat_map(|part| cells_along(&frame, &part.points)) {
        lowest = lowest.min(heights[cell]);
        changed |= heights[cell] > lowest;
        heights[cell] = lowest;
    }
    changed
}

/// What the survey reports: the height to the millimetre, or nothing in the hole.
fn surveyed(height: f64, point: (f64, f64)) -> f32 {
    if ellipse_share(HOLE, point) < 1.0 { f32::NAN } else { millimetres(height) as f32 }
}

/// 0 at an ellipse's centre, 1 along it; grows as the square of the distance.
fn ellipse_share(((u, v), (half_u, half_v)): ((f64, f64), (f64, f64)), point: (f64, f64)) -> f64 {
    let (du, dv) = ((point.0 - u) / half_u, (point.1 - v) / half_v);
    du * du + dv * dv
}

/// Changes the height of every cell whose centre lies within the sides (west and east, south and north).
fn change_near(
    heights: &mut Raster<f64>,
    ((west, east), (south, north)): ((f64, f64), (f64, f64)),
    change: impl Fn((f64, f64), f64) -> f64,
) {
    let frame = heights.frame;
    let span = |from: f64, to: f64, size: f64| {
        let first = (from.max(0.0) / CELL).floor() as usize;
        let last = (to.min(size) / CELL).ceil().max(0.0) as usize;
        first..last
    };
    for row in span(SIZE.1 - north, SIZE.1 - south, SIZE.1) {
        for col in span(west, east, SIZE.0) {
            let cell = frame.cell(col, row);
            let point = centre(&frame, cell);
            if (west..=east).contains(&point.0) && (south..=north).contains(&point.1) {
                heights[cell] = change(point, heights[cell]);
            }
        }
    }
}
