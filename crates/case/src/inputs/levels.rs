//! Surveyed levels: beds of waterways, inverts of pipes and culverts, water.

use std::collections::BTreeMap;

use fallwright_geodata::Problem;
use fallwright_units::{Frame, MappedStructureIx, PartialDate, Raster, WaterwayIx};
use geo::{Distance, Euclidean, Point};
use typed_index_collections::TiSlice;

use super::csv_rows::{self, CsvRow};
use super::land_heights::LAND_M;
use super::note::Note;
use super::reading::Reading;
use super::structures::MappedStructure;
use super::waterways::MappedWaterway;
use crate::file::{self, Source};
use crate::nearest::meant;
use crate::spelling;

/// How far a level may lie from its waterway, or from the end of its structure, metres (our choice).
const NEAR_M: f64 = 10.0;
/// A level that departs from the ground at its place by more is in other units or on another datum (our choice).
const FAR_FROM_GROUND_M: f64 = 25.0;
/// The columns of the file.
pub(crate) const COLUMNS: [&str; 7] = ["feature", "x", "y", "kind", "level_m", "date", "datum"];

/// What a level was taken of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelKind {
    /// The bed of a waterway.
    Bed,
    /// The inside bottom of a pipe or culvert at one of its ends.
    Invert,
    /// The water's surface.
    Water,
}

impl LevelKind {
    const ALL: [Self; 3] = [Self::Bed, Self::Invert, Self::Water];

    const fn name(self) -> &'static str {
        match self {
            Self::Bed => "bed",
            Self::Invert => "invert",
            Self::Water => "water",
        }
    }
}

/// Where a level belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelPlace {
    Waterway(WaterwayIx),
    /// The end that the level is of.
    Structure(MappedStructureIx, StructureEnd),
}

/// An end of a structure as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StructureEnd {
    First,
    Last,
}

/// One surveyed level.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// Id of the waterway, pipe or culvert.
    pub feature: String,
    pub place: LevelPlace,
    /// In the case's reference system, metres.
    pub x: f64,
    pub y: f64,
    pub kind: LevelKind,
    /// Metres above the datum.
    pub level_m: f64,
    /// Year, month or day of the survey.
    pub date: PartialDate,
    /// Height datum; the same for all levels of a case.
    pub datum: String,
    /// The file it is from, as the case names it, and its row there.
    pub file: String,
    pub row: u64,
}

/// Reads the levels of a case, in the order of its files and rows.
pub(super) fn read(
    reading: &mut Reading,
    tables: &[file::Levels],
    waterways: &TiSlice<WaterwayIx, MappedWaterway>,
    structures: &TiSlice<MappedStructureIx, MappedStructure>,
) -> Vec<Level> {
    let known = Known { waterways, structures, are_all: reading.drains_are_known };
    let mut levels = Vec::new();
    for table in tables {
        for row in csv_rows::read(&table.source, COLUMNS.map(Some), &mut reading.problems) {
            match level(&table.source, &row, known) {
                Ok(level) => levels.push(level),
                Err(problems) => reading.problems.extend(problems),
            }
        }
    }
    reading.problems.extend(mixed_datums(&levels));
    note_datum(reading, &levels);
    levels
}

/// The features that a level may belong to.
#[derive(Clone, Copy)]
struct Known<'a> {
    waterways: &'a TiSlice<WaterwayIx, MappedWaterway>,
    structures: &'a TiSlice<MappedStructureIx, MappedStructure>,
    /// Whether the case has no others that could not be read.
    are_all: bool,
}

impl Known<'_> {
    fn ids(&self) -> impl Iterator<Item = &str> {
        let waterways = self.waterways.iter().map(|waterway| waterway.id.as_str());
        waterways.chain(self.structures.iter().map(|structure| structure.id.as_str()))
    }
}

fn level(source: &Source, row: &CsvRow<7>, known: Known) -> Result<Level, Vec<Problem>> {
    let [feature, x, y, kind, level_m, date, datum] = &row.values;
    let mut problems = Vec::new();
    let mut problem = |found: String, expected: &str, hint: &str| {
        problems.push(Problem::in_file(&source.given, found, expected, hint).at_row(row.number));
    };
    let found_kind =
        spelling::find(kind, LevelKind::ALL.iter().map(|known| known.name())).map(|position| LevelKind::ALL[position]);
    if found_kind.is_none() {
        let hint = meant(kind, LevelKind::ALL.into_iter().map(LevelKind::name))
            .map_or_else(|| "correct the kind".to_owned(), |near| format!("did you mean {near:?}?"));
        problem(format!("the kind {kind:?}"), "bed, invert or water", &hint);
    }
    let at = finite(x).zip(finite(y));
    if at.is_none() {
        problem(format!("the place ({x:?}, {y:?})"), "x and y in the case's reference system", "correct the place");
    }
    let height = finite(level_m).filter(|height| LAND_M.contains(&(*height as f32)));
    if height.is_none() {
        let hint = "give the level above the datum, not a depth; in metres whatever the elevation's unit";
        problem(format!("the level {level_m:?}"), "a height of land in metres, -500 m to 9000 m", hint);
    }
    let taken = date.parse::<PartialDate>();
    if let Err(error) = &taken {
        problem(error.to_string(), "2024, 2024-05 or 2024-05-17", "say when the level was taken");
    }
    if datum.is_empty() {
        let hint = "name the datum the levels refer to; without it they cannot be compared with anything";
        problem("no datum".to_owned(), "a height datum", hint);
    }
    let place = found_kind.zip(at).and_then(|(kind, at)| match place(known, feature, kind, at) {
        Ok(place) => place,
        Err((found, expected, hint)) => {
            problem(found, expected, &hint);
            None
        }
    });
    let (Some(place), Some((x, y)), Some(kind), Some(level_m), Ok(date), true) =
        (place, at, found_kind, height, taken, problems.is_empty())
    else {
        return Err(problems);
    };
    Ok(Level {
        feature: feature.clone(),
        place,
        x,
        y,
        kind,
        level_m,
        date,
        datum: datum.clone(),
        file: source.given.clone(),
        row: row.number,
    })
}

fn finite(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// What was found, what was expected, what to do.
type Fault = (String, &'static str, String);

/// The feature that a level belongs to: beds are of waterways, inverts of structures, water may stand in either. `None` where
/// it may be one that could not be read.
fn place(known: Known, id: &str, kind: LevelKind, (x, y): (f64, f64)) -> Result<Option<LevelPlace>, Fault> {
    let at = Point::new(x, y);
    let waterway = known.waterways.position(|waterway| waterway.id.as_str() == id);
    let structure = known.structures.position(|structure| structure.id.as_str() == id);
    let (place, distance_m) = match (kind, waterway, structure) {
        (LevelKind::Bed | LevelKind::Water, Some(position), _) => {
            (LevelPlace::Waterway(position), known.waterways[position].distance_m(at))
        }
        (LevelKind::Invert | LevelKind::Water, _, Some(position)) => {
            let ends = known.structures[position].ends;
            let [first, last] = [ends.0, ends.1].map(|end| Euclidean.distance(at, Point(end)));
            let end = if first <= last { StructureEnd::First } else { StructureEnd::Last };
            (LevelPlace::Structure(position, end), first.min(last))
        }
        (_, None, None) if !known.are_all => return Ok(None),
        (_, None, None) => {
            let hint = meant(id, known.ids()).map_or_else(
                || "correct the id; ids are text, so leading zeros count".to_owned(),
                |near| format!("did you mean {near:?}?"),
            );
            return Err((format!("the feature {id:?}"), "the id of a waterway, pipe or culvert of the case", hint));
        }
        (kind, waterway, _) => {
            let whose = if waterway.is_some() { "a waterway" } else { "a pipe or culvert" };
            let found = format!("the kind {:?} for {id}, which is {whose}", kind.name());
            let hint = "correct the kind or the id".to_owned();
            return Err((found, "bed for a waterway, invert for a pipe or culvert, water for either", hint));
        }
    };
    if distance_m > NEAR_M {
        let whose = match place {
            LevelPlace::Waterway(position) if known.waterways[position].is_polygon() => "its water",
            LevelPlace::Waterway(_) => "its line",
            LevelPlace::Structure(..) => "both its ends",
        };
        let hint = format!("correct the place or the id; at most {NEAR_M} m are taken for unevenness of the mapping");
        let found = format!("a level {distance_m:.1} m from {id}");
        return Err((format!("{found}, measured to {whose}"), "a level at its feature", hint));
    }
    Ok(Some(place))
}

/// All levels of a case must refer to one datum.
fn mixed_datums(levels: &[Level]) -> Option<Problem> {
    let mut first: BTreeMap<&str, &Level> = BTreeMap::new();
    for level in levels {
        first.entry(&level.datum).or_insert(level);
    }
    if first.len() < 2 {
        return None;
    }
    let named: Vec<String> =
        first.iter().map(|(datum, level)| format!("{datum:?} (from {} row {})", level.file, level.row)).collect();
    Some(Problem::in_file(
        &levels[0].file,
        format!("levels on {} datums: {}", first.len(), named.join(", ")),
        "all levels of a case on one datum, spelt the same way",
        "convert them to the elevation's datum first; nothing is converted here",
    ))
}

/// Levels and elevation can be compared only if their heights refer to one datum.
fn note_datum(reading: &mut Reading, levels: &[Level]) {
    let Some(level) = levels.first() else { return };
    let label = reading.crs.label();
    if !label.to_lowercase().contains(&level.datum.to_lowercase()) {
        reading.notes.push(Note::new(
            "levels",
            format!("heights above {}; the elevation, in {label}, does not name that datum", level.datum),
            "taken to be the elevation's datum too; compare a benchmark before relying on either",
        ));
    }
}

/// Levels that no survey of this ground can have found.
pub(super) fn far_from_ground(levels: &[Level], ground: &Raster<f32>) -> Vec<Problem> {
    let frame: &Frame = &ground.frame;
    let fault = |level: &Level| {
        let ground_m = f64::from(ground[frame.cell_at((level.x, level.y))?]);
        ((level.level_m - ground_m).abs() > FAR_FROM_GROUND_M).then(|| {
            let found = format!("a level of {} m where the ground lies at {ground_m:.2} m", level.level_m);
            let expected = format!("a level within {FAR_FROM_GROUND_M} m of the ground");
            Problem::in_file(&level.file, found, expected, "check its unit and datum").at_row(level.row)
        })
    };
    levels.iter().filter_map(fault).collect()
}

#[cfg(test)]
mod tests {
    use fallwright_units::StructureKind;
    use fallwright_units::{LinkId, WaterwayId};
    use geo::{Coord, LineString, MultiLineString, MultiPolygon};

    use super::*;

    fn drain() -> MappedWaterway {
        MappedWaterway {
            id: WaterwayId::new("D-07"),
            name: None,
            class: "municipal_drain".to_owned(),
            width_m: 0.0,
            members: None,
            registered: None,
            agreed: None,
            bylaw: None,
            lines: MultiLineString::new(vec![LineString::from(vec![(0.0, 0.0), (0.0, -500.0)])]),
            shape: MultiPolygon::new(Vec::new()),
        }
    }

    fn culvert() -> MappedStructure {
        MappedStructure {
            file: "culverts.geojson".to_owned(),
            id: LinkId::new("C-1"),
            kind: StructureKind::Culvert,
            class: None,
            ends: (Coord { x: 100.0, y: 0.0 }, Coord { x: 112.0, y: 0.0 }),
            line: LineString::new(Vec::new()),
            inverts_m: None,
            dimensions: crate::inputs::dimensions::Dimensions::default(),
        }
    }

    fn read_row(row: &str) -> Result<Level, Vec<Problem>> {
        let source = Source { given: "levels.csv".to_owned(), path: "levels.csv".into(), repair: false };
        let values: Vec<String> = row.split(',').map(|value| value.trim().to_owned()).collect();
        let row = CsvRow { number: 2, values: values.try_into().unwrap() };
        level(
            &source,
            &row,
            Known {
                waterways: TiSlice::from_ref(&[drain()]),
                structures: TiSlice::from_ref(&[culvert()]),
                are_all: true,
            },
        )
    }

    #[test]
    fn a_level_belongs_to_the_nearer_place_of_its_feature() {
        let check = |row: &str, place: LevelPlace| assert_eq!(read_row(row).unwrap().place, place, "{row}");
        check("D-07, 3, -200, bed, 190.25, 2024-05-17, CGVD2013", LevelPlace::Waterway(WaterwayIx(0)));
        check("D-07, -9, -10, water, 190.25, 2024-05, CGVD2013", LevelPlace::Waterway(WaterwayIx(0)));
        check("D-07, -9, -10, Water, 190.25, 2024-05, CGVD2013", LevelPlace::Waterway(WaterwayIx(0)));
        check(
            "C-1, 101, 1, invert, 190.25, 2024, CGVD2013",
            LevelPlace::Structure(MappedStructureIx(0), StructureEnd::First),
        );
        check(
            "C-1, 109, 1, invert, 190.25, 2024, CGVD2013",
            LevelPlace::Structure(MappedStructureIx(0), StructureEnd::Last),
        );
        check(
            "C-1, 112, 9, water, -3.5, 2024, CGVD2013",
            LevelPlace::Structure(MappedStructureIx(0), StructureEnd::Last),
        );
    }

    #[test]
    fn each_fault_of_a_row_is_told() {
        let check = |row: &str, expected: &[&str]| {
            let problems: Vec<String> = read_row(row).unwrap_err().iter().map(ToString::to_string).collect();
            assert_eq!(problems.len(), expected.len(), "{problems:#?}");
            for (problem, words) in problems.iter().zip(expected) {
                assert!(problem.contains(words) && problem.contains("levels.csv, row 2: "), "{problem}");
            }
        };
        check("D-70, 3, -200, bed, 190.25, 2024, CGVD2013", &["did you mean \"D-07\"?"]);
        check("D-07, 3, -200, BEDS, 190.25, 2024, CGVD2013", &["did you mean \"bed\"?"]);
        check("D-07, 3, -200, invert, 190.25, 2024, CGVD2013", &["D-07, which is a waterway"]);
        check("C-1, 101, 0, bed, 190.25, 2024, CGVD2013", &["C-1, which is a pipe or culvert"]);
        check("D-07, 10.5, -200, bed, 190.25, 2024, CGVD2013", &["10.5 m from D-07, measured to its line"]);
        check("C-1, 106, 11, invert, 190.25, 2024, CGVD2013", &["12.5 m from C-1, measured to both its ends"]);
        check("D-07, east, -200, bed, 190.25, 2024, CGVD2013", &["the place (\"east\", \"-200\")"]);
        check("D-07, 3, -200, bed, NaN, 2024, CGVD2013", &["the level \"NaN\""]);
        check("D-07, 3, -200, bed, -9999, 2024, CGVD2013", &["the level \"-9999\""]);
        check("D-07, 3, -200, bed, 190.25, 17.5.2024, CGVD2013", &["the date \"17.5.2024\""]);
        check("D-07, 3, -200, bed, 190.25, 2024-02-31, CGVD2013", &["the date \"2024-02-31\""]);
        check("D-07, 3, -200, bed, 190.25, 2024,", &["no datum"]);
        check("D-07, inf, -200, bad, x, 2024-13,", &["the kind", "the place", "the level", "the date", "no datum"]);
    }

    #[test]
    fn datums_may_not_be_mixed() {
        let on = |datum: &str| read_row(&format!("D-07, 3, -200, bed, 190.25, 2024, {datum}")).unwrap();
        assert_eq!(mixed_datums(&[on("CGVD2013"), on("CGVD2013")]), None);
        let problem = mixed_datums(&[on("CGVD2013"), on("CGVD28")]).unwrap();
        assert!(problem.found.contains("\"CGVD28\" (from levels.csv row 2)"), "{problem}");
        assert_eq!(mixed_datums(&[]), None);
    }

    #[test]
    fn a_level_far_from_the_ground_is_refused() {
        let frame = Frame::new(1, 1, (0.0, -190.0), (10.0, 10.0)).unwrap();
        let check = |ground: f32, level: &str, count: usize| {
            let level = read_row(&format!("D-07, 3, -195, bed, {level}, 2024, CGVD2013")).unwrap();
            assert_eq!(far_from_ground(&[level], &Raster { frame, values: vec![ground] }).len(), count);
        };
        check(190.0, "186.5", 0);
        // Feet taken for metres.
        check(190.0, "611.9", 1);
        check(f32::NAN, "611.9", 0);
    }
}
