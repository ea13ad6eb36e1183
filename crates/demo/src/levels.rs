//! Surveyed levels: the Quernstone Drain's bed and one of its culverts, and the creek's water where the drain meets it.

use geo::Coord;

use crate::channels::Channel;
use crate::course::{Course, length};
use crate::plan::{centimetres, on_map};
use crate::structures::Culvert;

/// One row of the levels file.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelRow {
    /// Id of the waterway or culvert.
    pub feature: String,
    pub at: Coord,
    pub kind: &'static str,
    pub level_m: f64,
}

/// The day of the survey and its height datum, all invented.
pub(crate) const SURVEYED: &str = "2023-06-14";
pub(crate) const DATUM: &str = "Oxpindle datum (invented)";

/// The drain was cleaned out since the elevation was flown.
const CLEANED_OUT_M: f64 = 0.15;
/// A bar of silt at one place makes the bed rise downstream.
const BAR_STATION: usize = 4;
const BAR_M: f64 = 0.35;
/// From one surveyed place to the next.
const EVERY_M: f64 = 150.0;
const DRAIN_ID: &str = "D-07";
/// The drain's culvert under Teasel Line.
const CULVERT_ROAD: &str = "R-2";
/// Depth of the creek's water at the drain's mouth.
const CREEK_WATER_M: f64 = 0.3;

pub(crate) fn levels(channels: &[Channel], culverts: &[Culvert]) -> Vec<LevelRow> {
    let drain = channels.iter().find(|channel| channel.id == DRAIN_ID).expect("the plan has the drain");
    let mut levels: Vec<LevelRow> = drain.open_parts().iter().flat_map(stations).map(bed).collect();
    // The line's last vertex lies in the middle of the creek, not in the drain.
    levels.pop();
    levels[BAR_STATION].level_m = centimetres(levels[BAR_STATION].level_m + BAR_M);
    let crossing = drain.crossings.iter().find(|crossing| crossing.road == CULVERT_ROAD);
    let inlet = crossing.map(|crossing| on_map(crossing.inlet));
    if let Some(culvert) = culverts.iter().find(|culvert| culvert.line.0.first() == inlet.as_ref()) {
        let ends = culvert.line.0.iter().zip([culvert.invert_up_m, culvert.invert_down_m]);
        levels.extend(ends.map(|(&at, level_m)| row(&culvert.id, at, "invert", level_m)));
    }
    let mouth = drain.course.points[drain.course.points.len() - 1];
    let creek_bed = channels[0].course.bed_at(mouth).expect("the drain ends at a vertex of the creek");
    levels.push(row(&channels[0].id, on_map(mouth), "water", creek_bed + CREEK_WATER_M));
    levels
}

fn bed((at, lidar_m): ((f64, f64), f64)) -> LevelRow {
    row(DRAIN_ID, on_map(at), "bed", lidar_m - CLEANED_OUT_M)
}

fn row(feature: &str, at: Coord, kind: &'static str, level_m: f64) -> LevelRow {
    LevelRow { feature: feature.to_owned(), at, kind, level_m: centimetres(level_m) }
}

/// Places along a course at even distances, its ends among them, with the level of its bed.
fn stations(course: &Course) -> Vec<((f64, f64), f64)> {
    let whole: f64 = course.points.windows(2).map(|ends| length(ends[0], ends[1])).sum();
    let count = (whole / EVERY_M).ceil().max(1.0) as usize;
    (0..=count).map(|step| at(course, whole * step as f64 / count as f64)).collect()
}

/// The place and the bed at a distance along a course.
fn at(course: &Course, distance: f64) -> ((f64, f64), f64) {
    let mut before = 0.0;
    for (ends, beds) in course.points.windows(2).zip(course.bed.windows(2)) {
        let part = length(ends[0], ends[1]);
        if distance <= before + part {
            let share = (distance - before) / part;
            let between = |a: f64, b: f64| a + (b - a) * share;
            let place = (between(ends[0].0, ends[1].0), between(ends[0].1, ends[1].1));
            return ((centimetres(place.0), centimetres(place.1)), between(beds[0], beds[1]));
        }
        before += part;
    }
    (course.points[course.points.len() - 1], course.bed[course.bed.len() - 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_lie_at_even_distances_with_the_bed_there() {
        let course = Course::at_grade(vec![(0.0, 0.0), (100.0, 0.0), (100.0, 200.0)], 10.0, 0.01);
        let found = stations(&course);
        assert_eq!(found, [((0.0, 0.0), 13.0), ((100.0, 50.0), 11.5), ((100.0, 200.0), 10.0)]);
    }

    #[test]
    fn the_drain_has_one_bar_of_silt() {
        let town = crate::township::shared();
        let beds: Vec<f64> = town.levels.iter().filter(|row| row.kind == "bed").map(|row| row.level_m).collect();
        assert!(beds.len() > 10);
        assert_eq!(beds.windows(2).filter(|pair| pair[1] > pair[0]).count(), 1);
        assert_eq!(town.levels.iter().filter(|row| row.kind == "invert").count(), 2);
        assert_eq!(town.levels.iter().filter(|row| row.kind == "water").count(), 1);
    }
}
