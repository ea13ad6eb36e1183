//! Rain by duration and return period.

use fallwright_geodata::Problem;

use super::csv_rows::{self, CsvRow};
use crate::file::{self, Source};

const COLUMNS: [&str; 5] = ["duration_min", "return_period_years", "depth_mm", "intensity_mm_per_h", "source"];

/// One value of a rainfall table.
#[derive(Clone, Debug, PartialEq)]
pub struct Rain {
    pub duration_min: f64,
    pub return_period_years: f64,
    pub depth_mm: f64,
    /// What the value rests on.
    pub source: String,
}

/// Reads a rainfall table: depth or intensity in each row.
pub(super) fn read(table: &file::Rainfall, problems: &mut Vec<Problem>) -> Vec<Rain> {
    let rows = csv_rows::read(&table.source, COLUMNS).unwrap_or_else(|faults| {
        problems.extend(faults);
        Vec::new()
    });
    let mut rain = Vec::new();
    for row in &rows {
        match one(&table.source, row) {
            Ok(value) => rain.push(value),
            Err(problem) => problems.push(*problem),
        }
    }
    rain
}

fn one(source: &Source, row: &CsvRow<5>) -> Result<Rain, Box<Problem>> {
    let [duration, period, depth, intensity, origin] = &row.values;
    let positive = |text: &str| text.parse().ok().filter(|number: &f64| number.is_finite() && *number > 0.0);
    let problem = |found: String, expected: &str, hint: &str| {
        Box::new(Problem::in_file(&source.given, found, expected, hint).at_row(row.number))
    };
    let (Some(duration_min), Some(return_period_years)) = (positive(duration), positive(period)) else {
        let found = format!("a duration of {duration:?} and a return period of {period:?}");
        return Err(problem(found, "minutes and years above 0", "correct the row"));
    };
    let depth_mm = match (depth.is_empty(), intensity.is_empty()) {
        (false, true) => positive(depth),
        (true, false) => positive(intensity).map(|intensity| intensity * duration_min / 60.0),
        _ => None,
    };
    let Some(depth_mm) = depth_mm else {
        let found = format!("a depth of {depth:?} and an intensity of {intensity:?}");
        return Err(problem(found, "one of the two, above 0", "fill in depth_mm or intensity_mm_per_h"));
    };
    if origin.is_empty() {
        return Err(problem("no source".to_owned(), "what the value rests on", "name the station or the document"));
    }
    Ok(Rain { duration_min, return_period_years, depth_mm, source: origin.clone() })
}
