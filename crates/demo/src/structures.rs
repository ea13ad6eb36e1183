//! What carries water out of sight: culverts, a tile main and the land it drains; and the pothole that holds it.

use geo::{LineString, Polygon};

use crate::channel::{Channel, WaterwayClass, mapped};
use crate::geometry::{centimetres, distance, line, millimetres, outline, rectangle};
use crate::ground::pothole_rim;
use crate::till_plain::TillPlain;

/// A culvert under a road, drawn downstream.
#[derive(Clone, Debug, PartialEq)]
pub struct Culvert {
    pub id: String,
    /// The road's id.
    pub road: &'static str,
    pub diameter_mm: u32,
    pub material: &'static str,
    pub invert_up_m: f64,
    pub invert_down_m: f64,
    pub line: LineString,
}

/// A tile main, drawn downstream.
#[derive(Clone, Debug, PartialEq)]
pub struct Pipe {
    pub id: &'static str,
    pub diameter_mm: u32,
    pub grade_percent: f64,
    pub invert_up_m: f64,
    pub invert_down_m: f64,
    pub material: &'static str,
    pub class: &'static str,
    pub line: LineString,
}

/// Land drained by pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct TiledArea {
    /// The pipe's id.
    pub main_id: &'static str,
    pub outline: Polygon,
}

pub(crate) const MAIN_ID: &str = "T-1";
/// The tile main's inlet, west of the divide under Sideroad 6, and its outlet in the Sedgeling Drain, east of it.
pub(crate) const MAIN: [(f64, f64); 2] = [(2_421.0, 651.0), (3_101.0, 651.0)];
/// The main's invert below the land at its inlet, and above the drain's bed at its outlet.
const MAIN_COVER_M: f64 = 1.1;
const MAIN_ABOVE_BED_M: f64 = 0.2;

pub(crate) fn culverts(channels: &[Channel]) -> Vec<Culvert> {
    let crossings =
        mapped(channels).flat_map(|(channel, class)| channel.crossings.iter().map(move |at| (channel, class, at)));
    crossings
        .enumerate()
        .map(|(index, (channel, class, crossing))| {
            let bed = |end| millimetres(channel.line.bed_at(end).expect("culvert ends are vertices of their channel"));
            Culvert {
                id: format!("C-{:02}", index + 1),
                road: crossing.road,
                diameter_mm: diameter_mm(class),
                material: "corrugated steel",
                invert_up_m: bed(crossing.inlet),
                invert_down_m: bed(crossing.outlet),
                line: line(&[crossing.inlet, crossing.outlet]),
            }
        })
        .collect()
}

const fn diameter_mm(class: WaterwayClass) -> u32 {
    match class {
        WaterwayClass::NaturalWatercourse => 2_400,
        WaterwayClass::MunicipalDrain | WaterwayClass::MutualAgreementDrain => 1_200,
        WaterwayClass::PrivateDitch | WaterwayClass::RoadDitch => 750,
    }
}

pub(crate) fn pipes(channels: &[Channel], land: &TillPlain) -> Vec<Pipe> {
    let drain_bed = channels.iter().find_map(|channel| channel.line.bed_at(MAIN[1]));
    let outlet = drain_bed.expect("the drain has a vertex at the main's outlet") + MAIN_ABOVE_BED_M;
    let inlet = land.at(MAIN[0]) - MAIN_COVER_M;
    vec![Pipe {
        id: MAIN_ID,
        diameter_mm: 250,
        grade_percent: centimetres(100.0 * (inlet - outlet) / distance(MAIN[0], MAIN[1])),
        invert_up_m: millimetres(inlet),
        invert_down_m: millimetres(outlet),
        material: "corrugated plastic",
        class: "private_tile",
        line: line(&MAIN),
    }]
}

pub(crate) fn tiled_areas() -> Vec<TiledArea> {
    let outline = outline(&rectangle((2_290.0, 2_640.0), (545.0, 775.0)));
    vec![TiledArea { main_id: MAIN_ID, outline }]
}

pub(crate) fn potholes() -> Vec<Polygon> {
    vec![outline(&pothole_rim())]
}
