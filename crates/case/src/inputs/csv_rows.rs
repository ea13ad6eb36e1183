//! CSV files with named columns.

use std::collections::BTreeSet;
use std::fs::File;

use fallwright_geodata::Problem;

use crate::file::Source;

/// One row: the values of the columns asked for, in the order asked for, without the spaces around them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CsvRow<const N: usize> {
    /// The file's first row, the header, is number 1.
    pub(super) number: u64,
    pub(super) values: [String; N],
}

/// Reads some columns of a CSV file, whatever others there are; the values of a column without a name are empty. Reports a file
/// that is no CSV, every column that is missing and every row that cannot be read, and leaves these out.
pub(super) fn read<const N: usize>(
    source: &Source,
    columns: [Option<&str>; N],
    problems: &mut Vec<Problem>,
) -> Vec<CsvRow<N>> {
    match rows(source, columns) {
        Ok(rows) => rows.into_iter().filter_map(|row| row.map_err(|fault| problems.push(*fault)).ok()).collect(),
        Err(faults) => {
            problems.extend(faults);
            Vec::new()
        }
    }
}

/// The names of a file's columns.
pub(super) fn header(source: &Source) -> Result<BTreeSet<String>, Vec<Problem>> {
    let mut reader = reader(source)?;
    let header = reader.headers().map_err(|error| vec![unreadable(source, &error)])?;
    Ok(header.iter().map(str::to_owned).collect())
}

fn reader(source: &Source) -> Result<csv::Reader<File>, Vec<Problem>> {
    let reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(&source.path);
    reader.map_err(|error| vec![unreadable(source, &error)])
}

fn unreadable(source: &Source, error: &csv::Error) -> Problem {
    if let csv::ErrorKind::UnequalLengths { expected_len, len, .. } = error.kind() {
        let hint = "give every row a value or nothing for each column; put values that hold a comma in quotes";
        let expected = format!("{expected_len} values, as many as in the header");
        let found = if *len == 1 { "1 value".to_owned() } else { format!("{len} values") };
        return Problem::in_file(&source.given, found, expected, hint);
    }
    let hint = "save it as CSV in UTF-8, with commas and as many values in every row as in the header";
    Problem::in_file(&source.given, error.to_string(), "a CSV file with a header row", hint)
}

/// Each row, or why it cannot be read.
type Row<const N: usize> = Result<CsvRow<N>, Box<Problem>>;

fn rows<const N: usize>(source: &Source, columns: [Option<&str>; N]) -> Result<Vec<Row<N>>, Vec<Problem>> {
    let mut reader = reader(source)?;
    let header = reader.headers().map_err(|error| vec![unreadable(source, &error)])?.clone();
    let position = |name: &str| header.iter().position(|column| column == name);
    let missing = columns.into_iter().flatten().filter(|name| position(name).is_none()).map(|name| {
        let there = if header.is_empty() { "none".to_owned() } else { header.iter().collect::<Vec<_>>().join(", ") };
        let hint = if there.contains([';', '\t']) {
            "separate the columns with commas"
        } else {
            "correct the name in the file or in the case file"
        };
        let found = format!("no column {name:?}; there are {there}");
        Problem::in_file(&source.given, found, format!("a column {name:?}"), hint)
    });
    let missing: Vec<Problem> = missing.collect();
    if !missing.is_empty() {
        return Err(missing);
    }
    let positions = columns.map(|name| name.and_then(position));
    let value = |record: &csv::StringRecord, position: Option<usize>| {
        position.and_then(|position| record.get(position)).unwrap_or_default().to_owned()
    };
    let mut rows = Vec::new();
    for (number, record) in (2..).zip(reader.records()) {
        let is_over = record.as_ref().is_err_and(csv::Error::is_io_error);
        rows.push(match record {
            Ok(record) => Ok(CsvRow { number, values: positions.map(|position| value(&record, position)) }),
            Err(error) => Err(Box::new(unreadable(source, &error).at_row(number))),
        });
        if is_over {
            break;
        }
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The numbers of the rows read, and the places and beginnings of the problems.
    fn check(content: &[u8], columns: [Option<&str>; 2], rows: &[(u64, [&str; 2])], faults: &[&str]) {
        let home = tempfile::tempdir().unwrap();
        let path = home.path().join("a.csv");
        std::fs::write(&path, content).unwrap();
        let mut problems = Vec::new();
        let found = read(&Source { given: "a.csv".to_owned(), path, repair: false }, columns, &mut problems);
        let found: Vec<_> = found.iter().map(|row| (row.number, row.values.each_ref().map(String::as_str))).collect();
        assert_eq!(found, rows);
        assert_eq!(problems.len(), faults.len(), "{problems:#?}");
        for (problem, fault) in problems.iter().zip(faults) {
            assert!(problem.to_string().contains(fault), "no {fault:?} in {problem}");
        }
    }

    #[test]
    fn rows_that_cannot_be_read_are_all_reported_and_the_others_read() {
        let columns = [Some("id"), Some("ha")];
        check(b"id,ha\n1, 2.5\n2,3\n", columns, &[(2, ["1", "2.5"]), (3, ["2", "3"])], &[]);
        let faults = ["a.csv, row 3: found 1 value; expected 2 values", "a.csv, row 4: found 3 values"];
        check(b"id,ha\n1,2\n2\n3,4,5\n4,5\n", columns, &[(2, ["1", "2"]), (5, ["4", "5"])], &faults);
        check(b"id,ha\n1,2\n\xe9,3\n3,4\n", columns, &[(2, ["1", "2"]), (4, ["3", "4"])], &["a.csv, row 3: "]);
    }

    #[test]
    fn columns_are_asked_for_by_name_or_not_at_all() {
        check(b"x,id\n9,1\n", [Some("id"), None], &[(2, ["1", ""])], &[]);
        check(b"x,id\n9,1\n", [Some("ID"), Some("ha")], &[], &["no column \"ID\"", "no column \"ha\""]);
    }
}
