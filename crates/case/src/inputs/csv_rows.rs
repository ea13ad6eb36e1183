//! CSV files with named columns.

use fallwright_geodata::Problem;

use crate::file::Source;

/// One row: the values of the columns asked for, in the order asked for, without the spaces around them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct CsvRow<const N: usize> {
    /// The file's first row, the header, is number 1.
    pub(super) number: u64,
    pub(super) values: [String; N],
}

/// Reads some columns of a CSV file, whatever others there are.
///
/// # Errors
/// A file that is no CSV; every column that is missing.
pub(super) fn read<const N: usize>(source: &Source, columns: [&str; N]) -> Result<Vec<CsvRow<N>>, Vec<Problem>> {
    let unreadable = |error: csv::Error| {
        let hint = "save it as CSV in UTF-8, with commas and as many values in every row as in the header";
        vec![Problem::in_file(&source.given, error.to_string(), "a CSV file with a header row", hint)]
    };
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(&source.path).map_err(unreadable)?;
    let header = reader.headers().map_err(unreadable)?.clone();
    let positions = columns.map(|name| header.iter().position(|column| column == name));
    let missing = columns.iter().zip(positions).filter(|(_, position)| position.is_none()).map(|(name, _)| {
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
    let value = |record: &csv::StringRecord, position: Option<usize>| {
        position.and_then(|position| record.get(position)).unwrap_or_default().to_owned()
    };
    (2..)
        .zip(reader.records())
        .map(|(number, record)| {
            let record = record.map_err(unreadable)?;
            Ok(CsvRow { number, values: positions.map(|position| value(&record, position)) })
        })
        .collect()
}
