//! The channels that shaped the land: creek, drains, ditches and one swale that nobody mapped.
//!
//! Each is laid out from its outlet upstream, so that every bed meets the bed it empties into. Road ditches follow the
//! land and come later: see `road_ditches`.

use crate::bed_line::BedLine;
use crate::channel::{Channel, Section, WaterwayClass};
use crate::geometry::centimetres;
use crate::noise::noise;
use crate::plan::Line;

const CREEK: Section = Section { depth: 1.1, bottom_half: 2.4, side_slope: 0.6 };
const DRAIN: Section = Section { depth: 1.5, bottom_half: 0.9, side_slope: 0.67 };
const DITCH: Section = Section { depth: 1.0, bottom_half: 0.9, side_slope: 0.67 };
const SWALE: Section = Section { depth: 1.1, bottom_half: 1.6, side_slope: 0.2 };
/// A dug channel enters the creek this far above the creek's bed.
const STEP_AT_CREEK_M: f64 = 0.35;

/// Creek, drains, ditches and the swale, the creek first.
pub(crate) fn channels() -> Vec<Channel> {
    use WaterwayClass::{MunicipalDrain, MutualAgreementDrain, NaturalWatercourse, PrivateDitch};
    let mut creek = creek_line();
    let mut to_creek = |mut points: Vec<(f64, f64)>, grade: f64| {
        let column = points[points.len() - 1].0;
        let mouth = creek.cut_at(Line::Column(column))[0];
        let bed = creek.bed_at(mouth).expect("the vertex was added one line above");
        let last = points.len() - 1;
        points[last] = mouth;
        BedLine::at_grade(points, bed + STEP_AT_CREEK_M, grade)
    };
    let quernstone = to_creek(vec![(501.0, 2_481.0), (1_501.0, 2_481.0), (1_781.0, 2_481.0), (1_781.0, 0.0)], 0.002);
    let sedgeling = to_creek(vec![(3_101.0, 201.0), (3_101.0, 651.0), (3_101.0, 0.0)], 0.0025);
    let pebblewick = to_creek(vec![(3_451.0, 2_751.0), (3_451.0, 0.0)], 0.0025);
    let larderstone = to_creek(vec![(2_885.0, 1_911.0), (2_885.0, 0.0)], 0.0042);
    let mill = to_creek(vec![(2_101.0, 301.0), (2_101.0, 0.0)], 0.0025);
    let orchard = to_creek(vec![(701.0, 601.0), (701.0, 0.0)], 0.0028);
    let gate = to_creek(vec![(901.0, 1_999.0), (901.0, 0.0)], 0.005);
    let junction = (1_501.0, 2_481.0);
    let junction_bed = quernstone.bed_at(junction).expect("the drain has a vertex there");
    let lane = BedLine::at_grade(vec![(1_501.0, 2_871.0), junction], junction_bed + 0.2, 0.003);
    vec![
        Channel::new(("WC-1", "Sorrelhasp Creek"), Some(NaturalWatercourse), CREEK, creek),
        Channel::new(("D-07", "Quernstone Drain"), Some(MunicipalDrain), DRAIN, quernstone),
        Channel::new(("D-11", "Sedgeling Drain"), Some(MunicipalDrain), DRAIN, sedgeling),
        Channel::new(("A-1", "Pebblewick Agreement Drain"), Some(MutualAgreementDrain), DRAIN, pebblewick),
        Channel::new(("A-2", "Larderstone Agreement Drain"), Some(MutualAgreementDrain), DITCH, larderstone),
        Channel::new(("P-1", "Millrace ditch"), Some(PrivateDitch), DITCH, mill),
        Channel::new(("P-2", "Orchard ditch"), Some(PrivateDitch), DITCH, orchard),
        Channel::new(("P-3", "Back lane ditch"), Some(PrivateDitch), DITCH, lane),
        Channel::new(("P-4", "Gatepost ditch"), Some(PrivateDitch), DITCH, gate),
        Channel::new(("S-1", "unmapped swale"), None, SWALE, swale_line()),
    ]
}

/// The creek swings from the west side of the block to the east side; it runs straight where a road crosses it.
fn creek_line() -> BedLine {
    // From just outside the block on one side to just outside on the other.
    let points = (0..503)
        .map(|step| {
            let t = f64::from(step) * 8.0 - 8.0;
            let swing = calm(t) * (0.95 + 0.6 * noise(10, 500.0, (t, 0.0)));
            let phase = t / 33.0 + 1.3 * (t / 240.0).sin();
            let u = t - 10.0 * swing * (2.0 * phase).sin();
            let v = creek_valley(t) + 36.0 * swing * phase.sin();
            (centimetres(u), (v * 10.0).round() / 10.0)
        })
        .collect();
    BedLine::at_grade(points, 190.5, 0.001)
}

/// The middle of the valley in which the creek swings: plan coordinate from south to north at one from west to east.
pub(crate) fn creek_valley(u: f64) -> f64 {
    1_745.0 - 0.125 * u + 60.0 * (u / 330.0 + 0.6).sin()
}

/// 1 in the open, 0 where the creek crosses a road or the edge of the frame.
fn calm(t: f64) -> f64 {
    [0.0, 1_340.0, 2_660.0, 4_000.0]
        .into_iter()
        .map(|straight: f64| (((t - straight).abs() - 25.0) / 110.0).clamp(0.0, 1.0))
        .fold(1.0, f64::min)
}

/// A wandering swale that leaves the block over its west side.
fn swale_line() -> BedLine {
    let points = (0..=37)
        .map(|step| {
            let u = 1_111.0 - f64::from(step) * 30.0;
            let wander = 85.0 * noise(11, 420.0, (u, 0.0)) + 22.0 * noise(12, 150.0, (u, 0.0));
            (u, centimetres(310.0 + wander))
        })
        .collect();
    BedLine::at_grade(points, 195.9, 0.0022)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bed_falls_downstream() {
        for channel in channels() {
            assert!(channel.line.bed.windows(2).all(|pair| pair[0] > pair[1]), "{}", channel.id);
        }
    }

    #[test]
    fn every_mouth_is_a_vertex_of_the_receiving_channel() {
        let channels = channels();
        for channel in channels.iter().filter(|channel| !["WC-1", "S-1"].contains(&channel.id.as_str())) {
            let mouth = channel.line.mouth();
            let receivers = channels.iter().filter(|other| other.id != channel.id);
            assert_eq!(receivers.filter(|other| other.line.bed_at(mouth).is_some()).count(), 1, "{}", channel.id);
        }
    }

    #[test]
    fn culverts_lie_where_channels_meet_roads() {
        let crossings: Vec<_> = channels()
            .iter()
            .flat_map(|channel| channel.crossings.iter().map(|crossing| (channel.id.clone(), crossing.road)))
            .collect();
        let expected = [
            ("WC-1", "R-3"),
            ("WC-1", "R-4"),
            ("D-07", "R-2"),
            ("D-07", "R-3"),
            ("D-11", "R-1"),
            ("A-1", "R-2"),
            ("P-1", "R-1"),
            ("P-2", "R-1"),
            ("P-4", "R-2"),
        ];
        assert_eq!(crossings, expected.map(|(id, road)| (id.to_string(), road)));
    }
}
