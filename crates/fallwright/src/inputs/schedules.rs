//! By-law schedules of drains: which parcels are assessed for how many hectares.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;

use super::{Note, Reading};
use crate::case;
use crate::nearest::meant;

/// The current schedule of one drain.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Schedule {
    /// Id of the drain's waterway or enclosed pipe.
    pub(crate) drain: String,
    /// Assessed hectares by parcel id.
    pub(crate) hectares: BTreeMap<String, f64>,
}

pub(super) fn read(
    reading: &mut Reading,
    tables: &[case::Schedule],
    drains: &BTreeSet<&str>,
    parcels: &BTreeSet<&str>,
) -> Vec<Schedule> {
    let mut schedules = Vec::new();
    for table in tables {
        let problem = |feature: Option<String>, found: String, expected: &str, hint: String| Problem {
            file: table.source.given.clone(),
            layer: None,
            feature,
            found,
            expected: expected.to_owned(),
            hint,
        };
        if !drains.contains(table.drain.as_str()) {
            let hint = meant(&table.drain, drains.iter().copied()).map_or_else(
                || "correct the drain in [[schedules]]".to_owned(),
                |near| format!("did you mean {near:?}?"),
            );
            let found = format!("the drain {:?}", table.drain);
            reading.problems.push(problem(None, found, "the id of a waterway or pipe of the case", hint));
        }
        match read_rows(table, &problem) {
            Ok(hectares) => {
                note_unknown_parcels(reading, table, &hectares, parcels);
                schedules.push(Schedule { drain: table.drain.clone(), hectares });
            }
            Err(problems) => reading.problems.extend(problems),
        }
    }
    schedules
}

type Report<'a> = &'a dyn Fn(Option<String>, String, &str, String) -> Problem;

fn read_rows(table: &case::Schedule, problem: Report) -> Result<BTreeMap<String, f64>, Vec<Problem>> {
    let unreadable = |error: csv::Error| {
        vec![problem(None, error.to_string(), "a CSV file with a header row", "check the file".to_owned())]
    };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(&table.source.path).map_err(unreadable)?;
    let header = reader.headers().map_err(unreadable)?.clone();
    let column = |name: &str| {
        header.iter().position(|column| column == name).ok_or_else(|| {
            let found = format!("no column {name:?}; there are {}", header.iter().collect::<Vec<_>>().join(", "));
            problem(None, found, "the column named in the case file", "correct the name in [[schedules]]".to_owned())
        })
    };
    let (parcel, hectares) = match (column(&table.parcel), column(&table.hectares)) {
        (Ok(parcel), Ok(hectares)) => (parcel, hectares),
        (parcel, hectares) => return Err([parcel.err(), hectares.err()].into_iter().flatten().collect()),
    };
    let mut assessed = BTreeMap::new();
    let mut problems = Vec::new();
    for (row, record) in (2_u64..).zip(reader.records()) {
        let record = record.map_err(unreadable)?;
        let at = || Some(format!("row {row}"));
        let id = record.get(parcel).unwrap_or_default().to_owned();
        let value = record.get(hectares).unwrap_or_default();
        match value.parse::<f64>() {
            Ok(value) if value.is_finite() && value >= 0.0 && !id.is_empty() => {
                if assessed.insert(id.clone(), value).is_some() {
                    let hint = "join the parcel's rows into one".to_owned();
                    problems.push(problem(at(), format!("parcel {id} again"), "one row for each parcel", hint));
                }
            }
            _ => {
                let found = format!("parcel {id:?} with {value:?} hectares");
                let expected = "a parcel's id and its assessed hectares, 0 or more";
                problems.push(problem(at(), found, expected, "correct the row".to_owned()));
            }
        }
    }
    if problems.is_empty() { Ok(assessed) } else { Err(problems) }
}

fn note_unknown_parcels(
    reading: &mut Reading,
    table: &case::Schedule,
    hectares: &BTreeMap<String, f64>,
    parcels: &BTreeSet<&str>,
) {
    let unknown: Vec<&str> = hectares.keys().map(String::as_str).filter(|id| !parcels.contains(id)).collect();
    if !unknown.is_empty() && !parcels.is_empty() {
        reading.notes.push(Note::new(
            format!("schedule of {}", table.drain),
            format!("parcels that the parcel layer lacks: {}", unknown.join(", ")),
            "they were left out of every finding; the layer or the schedule may be out of date",
        ));
    }
}
