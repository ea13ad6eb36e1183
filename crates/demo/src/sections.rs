//! Cross-sections: as the by-laws have the two municipal drains, and as a survey found them and the creek; and the low water
//! at the tile main's outlet.
//!
//! A bank has slid into the Sedgeling Drain since the elevation was flown. Willows grow on it, and the water that it holds
//! back stands in the tile main's outlet.

use geo::Coord;

use crate::channel::{Channel, with_id};
use crate::geometry::centimetres;
use crate::levels::LevelRow;
use crate::plan::on_map;
use crate::structures::{MAIN, MAIN_ID};

/// One row of the sections file.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionRow {
    pub drain: &'static str,
    pub at: Coord,
    /// `design` or `present`.
    pub kind: &'static str,
    pub bottom_m: f64,
    pub side_slope: f64,
    pub depth_m: f64,
    pub bed_m: f64,
    pub n: f64,
    pub grade_percent: Option<f64>,
}

/// A trapezoid of a drain.
#[derive(Clone, Copy)]
struct Shape {
    bottom_m: f64,
    depth_m: f64,
    n: f64,
    /// Above the bed that the elevation shows.
    silt_m: f64,
}

const SIDE_SLOPE: f64 = 1.5;
const BYLAW: Shape = Shape { bottom_m: 1.8, depth_m: 1.5, n: 0.035, silt_m: 0.0 };
const CLEANED_OUT: Shape = Shape { bottom_m: 1.7, depth_m: 1.6, n: 0.030, silt_m: -0.15 };
const AS_DUG: Shape = Shape { bottom_m: 1.7, depth_m: 1.45, n: 0.035, silt_m: 0.05 };
/// Under 0.9 m of earth the bottom is wider by twice the side slope of it.
const SLID: Shape = Shape { bottom_m: 4.5, depth_m: 0.6, n: 0.10, silt_m: 0.9 };
const CREEK: Shape = Shape { bottom_m: 4.8, depth_m: 1.1, n: 0.030, silt_m: 0.0 };
const SLIDE: (f64, f64) = (3_101.0, 720.0);
/// Water over the slide's crest.
const WATER_OVER_SLIDE_M: f64 = 0.05;
/// Places east of the block's west side where the creek was measured, metres.
const CREEK_AT: [f64; 7] = [150.0, 700.0, 1_300.0, 1_900.0, 2_500.0, 3_100.0, 3_700.0];

pub(crate) fn sections(channels: &[Channel]) -> Vec<SectionRow> {
    let drains: [(&str, (f64, f64), f64, Shape); 5] = [
        ("D-07", (1_000.0, 2_481.0), 0.2, CLEANED_OUT),
        ("D-07", (1_781.0, 2_250.0), 0.2, CLEANED_OUT),
        ("D-07", (1_781.0, 1_700.0), 0.2, CLEANED_OUT),
        ("D-11", SLIDE, 0.25, SLID),
        ("D-11", (3_101.0, 1_200.0), 0.25, AS_DUG),
    ];
    let of_drains = drains.into_iter().flat_map(|(drain, at, grade, present)| {
        let bed_m = bed(channels, drain, at);
        let design = row(drain, at, "design", bed_m, BYLAW);
        [SectionRow { grade_percent: Some(grade), ..design }, row(drain, at, "present", bed_m, present)]
    });
    let creek = &channels[0].line;
    let of_creek = CREEK_AT.into_iter().map(|east| {
        let beyond = |&(u, _): &(f64, f64)| u >= east;
        let vertex = creek.points.iter().position(beyond).expect("the creek runs through the whole block");
        row("WC-1", creek.points[vertex], "present", creek.bed[vertex], CREEK)
    });
    of_drains.chain(of_creek).collect()
}

/// The low water in the tile main's outlet, held up by the slide.
pub(crate) fn low_water(channels: &[Channel]) -> Vec<LevelRow> {
    let water_m = bed(channels, "D-11", SLIDE) + SLID.silt_m + WATER_OVER_SLIDE_M;
    let at = on_map(MAIN[1]);
    vec![LevelRow { feature: MAIN_ID.to_owned(), at, kind: "water", level_m: centimetres(water_m) }]
}

/// The bed that the elevation shows at a place on a channel.
fn bed(channels: &[Channel], id: &str, at: (f64, f64)) -> f64 {
    let along = with_id(channels, id).line.segments().map(|segment| segment.nearest(at));
    along.min_by(|a, b| a.distance.total_cmp(&b.distance)).expect("a bed line has segments").bed
}

fn row(drain: &'static str, at: (f64, f64), kind: &'static str, bed_m: f64, shape: Shape) -> SectionRow {
    SectionRow {
        drain,
        at: on_map(at),
        kind,
        bottom_m: shape.bottom_m,
        side_slope: SIDE_SLOPE,
        depth_m: shape.depth_m,
        bed_m: centimetres(bed_m + shape.silt_m),
        n: shape.n,
        grade_percent: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::channels::channels;
    use crate::structures::pipes;
    use crate::till_plain::TillPlain;
    use crate::waterways::waterways;

    #[test]
    fn the_slide_stands_above_the_by_laws_bed_and_the_water_in_the_mains_outlet() {
        let channels = channels();
        let sections = sections(&channels);
        let slide: Vec<_> = sections.iter().filter(|row| row.at == on_map(SLIDE)).collect();
        assert!((slide[1].bed_m - slide[0].bed_m - SLID.silt_m).abs() < 0.011);
        let main = &pipes(&channels, &TillPlain::shaped_by(&channels))[0];
        let water = &low_water(&channels)[0];
        assert_eq!(water.feature, main.id);
        assert!(water.level_m > main.invert_down_m && water.level_m < main.invert_up_m);
    }

    #[test]
    fn sections_lie_on_their_drains() {
        let channels = channels();
        let waterways = waterways(&channels);
        for row in &sections(&channels) {
            let waterway = waterways.iter().find(|waterway| waterway.id == row.drain).unwrap();
            let metres = geo::Distance::distance(&geo::Euclidean, &geo::Point(row.at), &waterway.lines);
            assert!(metres < 0.5, "{} {metres}", row.drain);
        }
    }
}
