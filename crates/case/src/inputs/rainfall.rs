//! Rain by duration and return period.

use fallwright_geodata::Problem;

use super::csv_rows::{self, CsvRow};
use crate::file::{self, Source};

pub(crate) const COLUMNS: [&str; 5] =
    ["duration_min", "return_period_years", "depth_mm", "intensity_mm_per_h", "source"];

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
    let rows = csv_rows::read(&table.source, COLUMNS.map(Some), problems);
    rows.iter().filter_map(|row| one(&table.source, row, problems)).collect()
}

/// How much rain falls.
enum Amount {
    DepthMm(f64),
    IntensityMmPerH(f64),
}

/// The row's value, or a problem for each of its faults.
fn one(source: &Source, row: &CsvRow<5>, problems: &mut Vec<Problem>) -> Option<Rain> {
    let [duration, period, depth, intensity, origin] = &row.values;
    let positive = |text: &str| text.parse().ok().filter(|number: &f64| number.is_finite() && *number > 0.0);
    let mut problem = |found: String, expected: &str, hint: &str| {
        problems.push(Problem::in_file(&source.given, found, expected, hint).at_row(row.number));
    };
    let times = positive(duration).zip(positive(period));
    if times.is_none() {
        let found = format!("a duration of {duration:?} and a return period of {period:?}");
        problem(found, "minutes and years above 0", "correct the row");
    }
    let amount = match (depth.is_empty(), intensity.is_empty()) {
        (false, true) => positive(depth).map(Amount::DepthMm),
        (true, false) => positive(intensity).map(Amount::IntensityMmPerH),
        _ => None,
    };
    if amount.is_none() {
        let found = format!("a depth of {depth:?} and an intensity of {intensity:?}");
        problem(found, "one of the two, above 0", "fill in depth_mm or intensity_mm_per_h");
    }
    if origin.is_empty() {
        problem("no source".to_owned(), "what the value rests on", "name the station or the document");
    }
    let (duration_min, return_period_years) = times?;
    let depth_mm = match amount? {
        Amount::DepthMm(depth) => depth,
        Amount::IntensityMmPerH(intensity) => intensity * duration_min / 60.0,
    };
    (!origin.is_empty()).then(|| Rain { duration_min, return_period_years, depth_mm, source: origin.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Depth, and the faults of a row.
    fn check(row: &str, depth_mm: Option<f64>, faults: &[&str]) {
        let values: Vec<String> = row.split(',').map(|value| value.trim().to_owned()).collect();
        let row = CsvRow { number: 2, values: values.try_into().unwrap() };
        let mut problems = Vec::new();
        let rain = one(&Source { given: "idf.csv".to_owned(), ..Source::default() }, &row, &mut problems);
        assert_eq!(rain.map(|rain| rain.depth_mm), depth_mm);
        assert_eq!(problems.len(), faults.len(), "{problems:#?}");
        for (problem, fault) in problems.iter().zip(faults) {
            assert!(problem.to_string().contains(fault), "no {fault:?} in {problem}");
        }
    }

    #[test]
    fn depth_is_given_or_follows_from_intensity() {
        check("60, 5, 25.4, , gauge", Some(25.4), &[]);
        check("30, 5, , 50, gauge", Some(25.0), &[]);
    }

    #[test]
    fn each_fault_of_a_row_is_reported() {
        check("60, 5, 25.4, 25.4, gauge", None, &["an intensity of \"25.4\""]);
        check("0, 5, , , ", None, &["a duration of \"0\"", "a depth of \"\"", "no source"]);
        check("60, x, 3, , ", None, &["a return period of \"x\"", "no source"]);
    }
}
