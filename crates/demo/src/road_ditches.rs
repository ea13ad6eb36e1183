//! Road ditches: along both sides of the two concession roads, from the sideroads down to the channels they cross.

use crate::channels::{Channel, Section};
use crate::course::Course;
use crate::land::Land;
use crate::plan::{ALLOWANCE_HALF, DITCH_OFFSET, Line, ROADS, SIZE};
use crate::township::WaterwayClass;

const SECTION: Section = Section { depth: 0.6, bottom_half: 0.9, side_slope: 0.67 };
const VERTEX_SPACING: f64 = 20.0;
/// Grades along a ditch bed, downstream: no flatter and no steeper (our choice).
const GRADES: (f64, f64) = (0.001, 0.02);

/// Ditches of every road that runs east and west, numbered road by road, north side first, from west to east.
pub(crate) fn road_ditches(channels: &[Channel], land: &Land) -> Vec<Channel> {
    let mut ditches = Vec::new();
    for (_, road, line) in ROADS {
        let Line::Row(centre) = line else { continue };
        for (side, v) in [("north", centre + DITCH_OFFSET), ("south", centre - DITCH_OFFSET)] {
            for run in runs(channels, v) {
                let course = course(land, run);
                let id = format!("RD-{:02}", ditches.len() + 1);
                let name = format!("{road}, {side} ditch");
                ditches.push(Channel::new((&id, &name), Some(WaterwayClass::RoadDitch), SECTION, course));
            }
        }
    }
    ditches
}

/// Where a ditch starts and ends, and its bed at its end.
#[derive(Clone, Copy)]
struct Run {
    start: (f64, f64),
    mouth: (f64, f64),
    mouth_bed: f64,
}

/// Every ditch along one side of a road: two for each channel that the road crosses.
fn runs(channels: &[Channel], v: f64) -> Vec<Run> {
    let mut mouths: Vec<((f64, f64), f64)> = channels
        .iter()
        .filter(|channel| channel.class.is_some())
        .flat_map(|channel| channel.course.points.iter().copied().zip(channel.course.bed.iter().copied()))
        .filter(|(point, _)| point.1 == v)
        .collect();
    mouths.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    mouths
        .into_iter()
        .flat_map(|(mouth, bed)| {
            let (west, east) = block(mouth.0);
            [west, east].map(|u| Run { start: (u, v), mouth, mouth_bed: bed + 0.05 })
        })
        .collect()
}

/// The ends of the road stretch between two sideroads (or the block's sides) that holds a `u`.
fn block(u: f64) -> (f64, f64) {
    let clear = ALLOWANCE_HALF + 3.0;
    let (mut west, mut east): (f64, f64) = (45.0, SIZE.0 - 45.0);
    for (_, _, line) in ROADS {
        if let Line::Column(at) = line {
            if at < u {
                west = west.max(at + clear);
            } else {
                east = east.min(at - clear);
            }
        }
    }
    (west, east)
}

/// The bed follows the land upstream from the mouth as far as the grades allow.
fn course(land: &Land, Run { start, mouth, mouth_bed }: Run) -> Course {
    let count = ((start.0 - mouth.0).abs() / VERTEX_SPACING).ceil();
    let mut points = vec![mouth];
    let mut bed = vec![mouth_bed];
    let step = (start.0 - mouth.0) / count;
    for index in 1..=count as usize {
        let point = ((mouth.0 + step * index as f64).round(), mouth.1);
        let run = (point.0 - points[index - 1].0).abs();
        let (least, most) = (bed[index - 1] + GRADES.0 * run, bed[index - 1] + GRADES.1 * run);
        bed.push((land.at(point) - SECTION.depth).clamp(least, most));
        points.push(point);
    }
    points.reverse();
    bed.reverse();
    Course { points, bed }
}
