//! Road ditches: along both sides of the two concession roads, from the sideroads down to the channels they cross.

use crate::bed_line::BedLine;
use crate::channel::{Channel, Section, WaterwayClass, mapped};
use crate::plan::{ALLOWANCE_HALF, DITCH_OFFSET, Line, ROADS, SIZE};
use crate::till_plain::TillPlain;

const SECTION: Section = Section { depth: 0.6, bottom_half: 0.9, side_slope: 0.67 };
const VERTEX_SPACING: f64 = 20.0;
/// Grades along a ditch bed, downstream: no flatter and no steeper (our choice).
const GRADES: (f64, f64) = (0.001, 0.02);

/// Ditches of every road that runs east and west, numbered road by road, north side first, from west to east.
pub(crate) fn road_ditches(channels: &[Channel], land: &TillPlain) -> Vec<Channel> {
    let mut ditches = Vec::new();
    for (_, road, centre) in ROADS {
        let Line::Row(centre) = centre else { continue };
        for (side, v) in [("north", centre + DITCH_OFFSET), ("south", centre - DITCH_OFFSET)] {
            for line in bed_lines(channels, land, v) {
                let id = format!("RD-{:02}", ditches.len() + 1);
                let name = format!("{road}, {side} ditch");
                ditches.push(Channel::new((&id, &name), Some(WaterwayClass::RoadDitch), SECTION, line));
            }
        }
    }
    ditches
}

/// Every ditch along one side of a road: two for each channel that the road crosses.
fn bed_lines(channels: &[Channel], land: &TillPlain, v: f64) -> Vec<BedLine> {
    let mut mouths: Vec<((f64, f64), f64)> = mapped(channels)
        .flat_map(|(channel, _)| channel.line.points.iter().copied().zip(channel.line.bed.iter().copied()))
        .filter(|(point, _)| point.1 == v)
        .collect();
    mouths.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    mouths
        .into_iter()
        .flat_map(|(mouth, bed)| {
            let (west, east) = block(mouth.0);
            [west, east].map(|start| bed_line(land, start, mouth, bed + 0.05))
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

/// From a `u` to the mouth; the bed follows the land upstream from there as far as the grades allow.
fn bed_line(land: &TillPlain, start: f64, mouth: (f64, f64), mouth_bed: f64) -> BedLine {
    let count = ((start - mouth.0).abs() / VERTEX_SPACING).ceil();
    let mut points = vec![mouth];
    let mut bed = vec![mouth_bed];
    let step = (start - mouth.0) / count;
    for index in 1..=count as usize {
        let point = ((mouth.0 + step * index as f64).round(), mouth.1);
        let run = (point.0 - points[index - 1].0).abs();
        let (least, most) = (bed[index - 1] + GRADES.0 * run, bed[index - 1] + GRADES.1 * run);
        bed.push((land.at(point) - SECTION.depth).clamp(least, most));
        points.push(point);
    }
    points.reverse();
    bed.reverse();
    BedLine { points, bed }
}
