//! By-law schedules of drains: which parcels are assessed for how many hectares.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;

use super::csv_rows::{self, CsvRow};
use super::{Note, Reading};
use crate::file;
use crate::nearest::meant;

/// The current schedule of one drain.
#[derive(Clone, Debug, PartialEq)]
pub struct Schedule {
    /// Id of the drain's waterway or enclosed pipe.
    pub drain: String,
    /// Assessed hectares by id of a parcel or road; an id that both have is the parcel's.
    pub hectares: BTreeMap<String, f64>,
}

pub(super) fn read(
    reading: &mut Reading,
    tables: &[file::Schedule],
    drains: &BTreeSet<&str>,
    parcels: &BTreeSet<&str>,
) -> Vec<Schedule> {
    let mut schedules = Vec::new();
    for table in tables {
        if !drains.contains(table.drain.as_str()) {
            let hint = meant(&table.drain, drains.iter().copied()).map_or_else(
                || "correct the drain in [[schedules]]".to_owned(),
                |near| format!("did you mean {near:?}?"),
            );
            let found = format!("the drain {:?}", table.drain);
            let expected = "the id of a waterway or pipe of the case";
            reading.problems.push(Problem::in_file(&table.source.given, found, expected, hint));
        }
        match assessed(table) {
            Ok(hectares) => {
                note_unknown_parcels(reading, table, &hectares, parcels);
                schedules.push(Schedule { drain: table.drain.clone(), hectares });
            }
            Err(problems) => reading.problems.extend(problems),
        }
    }
    schedules
}

/// Assessed hectares by parcel id.
fn assessed(table: &file::Schedule) -> Result<BTreeMap<String, f64>, Vec<Problem>> {
    let mut assessed = BTreeMap::new();
    let mut problems = Vec::new();
    for CsvRow { number, values: [id, value] } in csv_rows::read(&table.source, [&table.parcel, &table.hectares])? {
        let mut problem = |found: String, expected: &str, hint: &str| {
            problems.push(Problem::in_file(&table.source.given, found, expected, hint).at_row(number));
        };
        match value.parse::<f64>() {
            Ok(value) if value.is_finite() && value >= 0.0 && !id.is_empty() => {
                if assessed.insert(id.clone(), value).is_some() {
                    let hint = "join the parcel's rows into one";
                    problem(format!("parcel {id} again"), "one row for each parcel", hint);
                }
            }
            _ => {
                let found = format!("parcel {id:?} with {value:?} hectares");
                problem(found, "a parcel's id and its assessed hectares, 0 or more", "correct the row");
            }
        }
    }
    if problems.is_empty() { Ok(assessed) } else { Err(problems) }
}

/// Ids that a spreadsheet took for numbers are refused; other parcels that the layer lacks are left out.
fn note_unknown_parcels(
    reading: &mut Reading,
    table: &file::Schedule,
    hectares: &BTreeMap<String, f64>,
    parcels: &BTreeSet<&str>,
) {
    if parcels.is_empty() {
        return;
    }
    let number = |id: &str| id.trim_start_matches('0').to_owned();
    let numbers: BTreeMap<String, &str> = parcels.iter().map(|id| (number(id), *id)).collect();
    let (mut mistaken, mut unknown) = (Vec::new(), Vec::new());
    for id in hectares.keys().map(String::as_str).filter(|id| !parcels.contains(id)) {
        match numbers.get(&number(id)) {
            Some(parcel) => mistaken.push(format!("{id} ({parcel} in the layer)")),
            None => unknown.push(id),
        }
    }
    if !mistaken.is_empty() {
        /// More ids than this are not listed (our choice).
        const LISTED: usize = 10;
        let more =
            if mistaken.len() > LISTED { format!(" and {} more", mistaken.len() - LISTED) } else { String::new() };
        mistaken.truncate(LISTED);
        let ids = mistaken.join(", ");
        let found = format!("parcels that differ from the layer's by leading zeros alone: {ids}{more}");
        let hint = "correct the ids; a spreadsheet drops the zeros unless the column is text";
        reading.problems.push(Problem::in_file(&table.source.given, found, "ids as in the parcel layer", hint));
    }
    if !unknown.is_empty() {
        reading.notes.push(Note::new(
            format!("schedule of {}", table.drain),
            format!("parcels that the parcel layer lacks: {}", unknown.join(", ")),
            "they were left out of every finding; the layer or the schedule may be out of date",
        ));
    }
}
