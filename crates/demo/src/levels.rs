//! Surveyed levels: the Quernstone Drain's bed and one of its culverts, and the creek's water where the drain meets it.

use geo::Coord;

use crate::bed_line::BedLine;
use crate::channel::{Channel, with_id};
use crate::geometry::centimetres;
use crate::plan::on_map;
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
    let drain = with_id(channels, DRAIN_ID);
    let mut levels: Vec<LevelRow> = drain.open_parts().iter().flat_map(stations).map(bed).collect();
    // The line's last vertex lies in the middle of the creek, not in the drain.
    levels.pop();
    levels[BAR_STATION].level_m = centimetres(levels[BAR_STATION].level_m + BAR_M);
    let crossing = drain.crossings.iter().find(|crossing| crossing.road == CULVERT_ROAD);
    let inlet = crossing.map(|crossing| on_map(crossing.inlet));
    let culvert = culverts.iter().find(|culvert| culvert.line.0.first() == inlet.as_ref());
    let culvert = culvert.expect("the drain has a culvert under the road");
    let ends = culvert.line.0.iter().zip([culvert.invert_up_m, culvert.invert_down_m]);
    levels.extend(ends.map(|(&at, level_m)| row(&culvert.id, at, "invert", level_m)));
    let (creek, mouth) = (&channels[0], drain.line.mouth());
    let creek_bed = creek.line.bed_at(mouth).expect("the drain ends at a vertex of the creek");
    levels.push(row(&creek.id, on_map(mouth), "water", creek_bed + CREEK_WATER_M));
    levels
}

fn bed((at, lidar_m): ((f64, f64), f64)) -> LevelRow {
    row(DRAIN_ID, on_map(at), "bed", lidar_m - CLEANED_OUT_M)
}

fn row(feature: &str, at: Coord, kind: &'static str, level_m: f64) -> LevelRow {
    LevelRow { feature: feature.to_owned(), at, kind, level_m: centimetres(level_m) }
}

/// Places along a bed line at even distances, its ends among them, with the level of its bed.
fn stations(line: &BedLine) -> Vec<((f64, f64), f64)> {
    let whole = line.length();
    let count = (whole / EVERY_M).ceil().max(1.0) as usize;
    let stations = (0..=count).map(|step| line.at(whole * step as f64 / count as f64));
    stations.map(|((u, v), bed)| ((centimetres(u), centimetres(v)), bed)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channels::channels;
    use crate::structures::culverts;

    #[test]
    fn places_lie_at_even_distances_with_the_bed_there() {
        let line = BedLine::at_grade(vec![(0.0, 0.0), (100.0, 0.0), (100.0, 200.0)], 10.0, 0.01);
        let found = stations(&line);
        assert_eq!(found, [((0.0, 0.0), 13.0), ((100.0, 50.0), 11.5), ((100.0, 200.0), 10.0)]);
    }

    #[test]
    fn the_drain_has_one_bar_of_silt() {
        let channels = channels();
        let levels = levels(&channels, &culverts(&channels));
        let beds: Vec<f64> = levels.iter().filter(|row| row.kind == "bed").map(|row| row.level_m).collect();
        assert!(beds.len() > 10);
        assert_eq!(beds.windows(2).filter(|pair| pair[1] > pair[0]).count(), 1);
        assert_eq!(levels.iter().filter(|row| row.kind == "invert").count(), 2);
        assert_eq!(levels.iter().filter(|row| row.kind == "water").count(), 1);
    }
}
