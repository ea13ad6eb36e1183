//! Cross-sections of drains: as the by-law designed them and as they are now.

use fallwright_geodata::Problem;
use fallwright_hydraulics::{OutOfRange, Roughness, Section};
use fallwright_units::{Metres, WaterwayIx};
use geo::Point;
use typed_index_collections::TiSlice;

use super::csv_rows::{self, CsvRow};
use super::land_heights::LAND_M;
use super::levels::Level;
use super::reading::Reading;
use super::waterways::MappedWaterway;
use crate::file::{self, Source};
use crate::nearest::meant;
use crate::spelling;

/// How far a section may lie from its drain's line, metres (our choice; as for levels).
const NEAR_M: f64 = 10.0;
pub(crate) const COLUMNS: [&str; 13] = [
    "drain",
    "x",
    "y",
    "kind",
    "bottom_m",
    "side_slope",
    "depth_m",
    "points",
    "bed_m",
    "n",
    "grade_percent",
    "date",
    "datum",
];

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionKind {
    /// As the by-law has it.
    Design,
    /// As it was surveyed.
    Present,
}

/// One cross-section at its place.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossSection {
    pub waterway: WaterwayIx,
    /// In the case's reference system, metres.
    pub x: f64,
    pub y: f64,
    pub kind: SectionKind,
    pub section: Section,
    /// Bottom width and side slope, metres; `None` for a section given by its points.
    pub trapezoid: Option<(f64, f64)>,
    /// Lower bank above the bed, metres.
    pub depth_m: f64,
    /// Level of the bed above the datum, metres.
    pub bed_m: f64,
    pub roughness: Option<Roughness>,
    pub grade_percent: Option<f64>,
    pub datum: String,
    file: String,
    row: u64,
}

/// Reads the sections of a case, in the order of its files and rows.
pub(super) fn read(
    reading: &mut Reading,
    tables: &[file::Sections],
    waterways: &TiSlice<WaterwayIx, MappedWaterway>,
    levels: &[Level],
) -> Vec<CrossSection> {
    let drains = Drains { waterways, are_all: reading.drains_are_known };
    let mut sections = Vec::new();
    for table in tables {
        for row in csv_rows::read(&table.source, COLUMNS.map(Some), &mut reading.problems) {
            match cross_section(&table.source, &row, drains) {
                Ok(section) => sections.push(section),
                Err(faults) => reading.problems.extend(faults),
            }
        }
    }
    reading.problems.extend(mixed_datums(&sections, levels));
    sections
}

/// The drains that a section may be of.
#[derive(Clone, Copy)]
struct Drains<'a> {
    waterways: &'a TiSlice<WaterwayIx, MappedWaterway>,
    /// Whether the case has no others that could not be read.
    are_all: bool,
}

/// The faults of one row.
struct Faults<'a> {
    source: &'a Source,
    row: u64,
    list: Vec<Problem>,
}

impl Faults<'_> {
    fn add(&mut self, found: String, expected: &str, hint: &str) {
        self.list.push(Problem::in_file(&self.source.given, found, expected, hint).at_row(self.row));
    }

    /// A number that must be there and pass a test.
    fn number(&mut self, column: &str, text: &str, expected: &str, holds: impl Fn(f64) -> bool) -> Option<f64> {
        let number = finite(text).filter(|&number| holds(number));
        if number.is_none() {
            let found = if text.is_empty() { format!("no {column}") } else { format!("the {column} {text:?}") };
            self.add(found, expected, "correct the row");
        }
        number
    }
}

fn cross_section(source: &Source, row: &CsvRow<13>, drains: Drains) -> Result<CrossSection, Vec<Problem>> {
    let [drain, x, y, kind, bottom, side_slope, depth, points, bed, n, grade, _, datum] = &row.values;
    let mut faults = Faults { source, row: row.number, list: Vec::new() };
    let waterway = waterway(&mut faults, drain, drains);
    let at = finite(x).zip(finite(y));
    match (at, waterway) {
        (None, _) => faults.add(
            format!("the place ({x:?}, {y:?})"),
            "x and y in the case's reference system",
            "correct the place",
        ),
        (Some(at), Some(waterway)) => near_its_drain(&mut faults, at, &drains.waterways[waterway]),
        (Some(_), None) => {}
    }
    let kind = kind_of(&mut faults, kind);
    let shape = shape(&mut faults, [bottom, side_slope, depth, points]);
    let bed_m = faults.number("bed_m", bed, "the bed's level in metres above the datum, -500 m to 9000 m", |level| {
        LAND_M.contains(&(level as f32))
    });
    let roughness = roughness(&mut faults, n);
    let grade_percent = if grade.is_empty() {
        None
    } else {
        faults.number("grade_percent", grade, "a grade above 0 % and below 100 %, or nothing", |grade| {
            grade > 0.0 && grade < 100.0
        })
    };
    if datum.is_empty() {
        let hint = "name the datum that bed_m refers to; without it the bed cannot be compared with anything";
        faults.add("no datum".to_owned(), "a height datum", hint);
    }
    let (Some(waterway), Some((x, y)), Some(kind), Some(shape), Some(bed_m), true) =
        (waterway, at, kind, shape, bed_m, faults.list.is_empty())
    else {
        return Err(faults.list);
    };
    Ok(CrossSection {
        waterway,
        x,
        y,
        kind,
        section: shape.section,
        trapezoid: shape.trapezoid,
        depth_m: shape.depth_m,
        bed_m,
        roughness,
        grade_percent,
        datum: datum.clone(),
        file: source.given.clone(),
        row: row.number,
    })
}

fn waterway(faults: &mut Faults, drain: &str, drains: Drains) -> Option<WaterwayIx> {
    let found = drains.waterways.position(|waterway| waterway.id.as_str() == drain);
    if found.is_none() && drains.are_all {
        let hint = meant(drain, drains.waterways.iter().map(|waterway| waterway.id.as_str())).map_or_else(
            || "correct the id; ids are text, so leading zeros count".to_owned(),
            |near| format!("did you mean {near:?}?"),
        );
        faults.add(format!("the drain {drain:?}"), "the id of a waterway of the case", &hint);
    }
    found
}

fn kind_of(faults: &mut Faults, kind: &str) -> Option<SectionKind> {
    let kinds = [("design", SectionKind::Design), ("present", SectionKind::Present)];
    let found = spelling::find(kind, kinds.iter().map(|(name, _)| *name));
    if found.is_none() {
        let hint = "say whether it is the by-law's or was surveyed";
        faults.add(format!("the kind {kind:?}"), "design or present", hint);
    }
    found.map(|position| kinds[position].1)
}

fn near_its_drain(faults: &mut Faults, (x, y): (f64, f64), waterway: &MappedWaterway) {
    if waterway.is_polygon() {
        let found = format!("a section of {}, which is mapped as a polygon", waterway.id);
        let hint = "map the centre line if its capacity is to be checked, or leave the section out";
        faults.add(found, "a section of a waterway that is mapped as a line", hint);
        return;
    }
    let distance_m = waterway.distance_m(Point::new(x, y));
    if distance_m > NEAR_M {
        let hint = format!("correct the place or the id; at most {NEAR_M} m are taken for unevenness of the mapping");
        let found = format!("a section {distance_m:.1} m from the line of {}", waterway.id);
        faults.add(found, "a section at its drain", &hint);
    }
}

fn roughness(faults: &mut Faults, n: &str) -> Option<Roughness> {
    if n.is_empty() {
        return None;
    }
    match finite(n).ok_or(()).map(Roughness::new) {
        Ok(Ok(roughness)) => Some(roughness),
        Ok(Err(OutOfRange { found, expected, .. })) => {
            let hint = "give Manning's n of the bed, 0.03 to 0.04 for most earth ditches, or leave it empty";
            faults.add(format!("a roughness n of {found}"), expected, hint);
            None
        }
        Err(()) => {
            faults.add(format!("the roughness {n:?}"), "Manning's n", "give a plain number or leave it empty");
            None
        }
    }
}

struct Shape {
    section: Section,
    trapezoid: Option<(f64, f64)>,
    depth_m: f64,
}

/// A trapezoid by bottom, side slope and depth, or points across as `station:level` with spaces between.
fn shape(faults: &mut Faults, [bottom, side_slope, depth, points]: [&String; 4]) -> Option<Shape> {
    let metres = |value: f64| Metres::from_metres(value).expect("checked to be finite where it was read");
    if points.is_empty() {
        let bottom = faults.number("bottom_m", bottom, "a bottom width in metres, 0 or more", |width| width >= 0.0);
        let side =
            faults.number("side_slope", side_slope, "metres out for one metre up, 0 or more", |side| side >= 0.0);
        let depth = faults.number("depth_m", depth, "bank above bed in metres, more than 0", |depth| depth > 0.0);
        let (bottom, side, depth_m) = (bottom?, side?, depth?);
        return match Section::trapezoid(metres(bottom), side) {
            Ok(section) => Some(Shape { section, trapezoid: Some((bottom, side)), depth_m }),
            Err(error) => {
                faults.add(error.to_string(), "a bottom or sides that run out", "correct the row");
                None
            }
        };
    }
    let pair = |text: &str| text.split_once(':').and_then(|(station, level)| finite(station).zip(finite(level)));
    let pairs: Option<Vec<_>> = points.split_whitespace().map(pair).collect();
    let pairs = pairs.map(|pairs| pairs.into_iter().map(|(x, z)| (metres(x), metres(z))).collect::<Vec<_>>());
    let section = pairs.as_deref().and_then(|pairs| Section::irregular(pairs).ok());
    if section.is_none() {
        let expected = "three or more station:level pairs across the drain, one below both banks";
        faults.add(format!("the points {points:?}"), expected, "as in 0:101.2 1.5:100.1 3:100.0 5:101.3");
    }
    let section = section?;
    let depth_m = section.top().map_or(0.0, Metres::metres);
    Some(Shape { section, trapezoid: None, depth_m })
}

fn finite(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// Sections and levels of a case refer to one datum.
fn mixed_datums(sections: &[CrossSection], levels: &[Level]) -> Option<Problem> {
    let (first, other) = match (sections.first(), levels.first()) {
        (Some(section), Some(level)) => {
            (level.datum.as_str(), sections.iter().find(|one| one.datum != level.datum).unwrap_or(section))
        }
        (Some(section), None) => {
            (section.datum.as_str(), sections.iter().find(|one| one.datum != section.datum).unwrap_or(section))
        }
        (None, _) => return None,
    };
    (other.datum != first).then(|| {
        let found = format!("heights above {:?} beside others above {first:?}", other.datum);
        let expected = "all sections and levels of a case on one datum, spelt the same way";
        let hint = "convert them to the elevation's datum first; nothing is converted here";
        Problem::in_file(&other.file, found, expected, hint).at_row(other.row)
    })
}
