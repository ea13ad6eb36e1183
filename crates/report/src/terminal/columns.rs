//! Texts and tables within the width of a terminal.

use textwrap::{Options, WordSplitter, wrap};

/// The width of an ordinary terminal.
pub(super) const COLUMNS: usize = 80;
/// No column of a table is made narrower than this (our choice).
const LEAST_COLUMN: usize = 8;
const BETWEEN: usize = 2;

/// A text, its lines after the first indented by two more. Words with hyphens, as parcels' numbers are, stay whole.
pub(super) fn wrapped(text: &str, indent: &str) -> Vec<String> {
    lines(text, Options::new(COLUMNS).initial_indent(indent).subsequent_indent(&format!("{indent}  ")))
}

/// A text behind a head, over as many lines as it needs.
pub(super) fn hanging(head: &str, text: &str) -> Vec<String> {
    let below = " ".repeat(head.chars().count());
    lines(text, Options::new(COLUMNS).initial_indent(head).subsequent_indent(&below))
}

/// Rows as a table of columns two spaces apart, which leaves room for an indent. Columns that are a number in every row but the first
/// are set to the right. Where the rows are too wide, the widest columns take several lines.
pub(super) fn table(rows: &[Vec<String>]) -> Vec<String> {
    let widths = widths(rows);
    let is_number =
        |column: usize| rows.iter().skip(1).all(|row| row.get(column).is_some_and(|cell| cell.parse::<f64>().is_ok()));
    let columns: Vec<(usize, bool)> =
        widths.into_iter().enumerate().map(|(column, width)| (width, is_number(column))).collect();
    rows.iter().flat_map(|row| row_lines(row, &columns)).collect()
}

/// The same, indented by two.
pub(super) fn indented_table(rows: &[Vec<String>]) -> Vec<String> {
    table(rows).into_iter().map(|line| format!("  {line}")).collect()
}

fn widths(rows: &[Vec<String>]) -> Vec<usize> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widest = |column: usize| rows.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count()).max();
    let mut widths: Vec<usize> = (0..columns).map(|column| widest(column).unwrap_or(0)).collect();
    let room = COLUMNS - BETWEEN * columns;
    while widths.iter().sum::<usize>() > room {
        match widths.iter_mut().max().filter(|widest| **widest > LEAST_COLUMN) {
            Some(widest) => *widest -= 1,
            None => break,
        }
    }
    widths
}

fn row_lines(row: &[String], columns: &[(usize, bool)]) -> Vec<String> {
    let wrapped = |(cell, &(width, _)): (&String, &(usize, bool))| lines(cell, Options::new(width.max(1)));
    let cells: Vec<Vec<String>> = row.iter().zip(columns).map(wrapped).collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |number: usize| {
        let set = cells.iter().zip(columns).map(|(cell, &(width, right))| {
            let text = cell.get(number).map_or("", String::as_str);
            if right { format!("{text:>width$}") } else { format!("{text:<width$}") }
        });
        set.collect::<Vec<_>>().join(&" ".repeat(BETWEEN)).trim_end().to_owned()
    };
    (0..height).map(line).collect()
}

fn lines(text: &str, options: Options) -> Vec<String> {
    let options = options.word_splitter(WordSplitter::NoHyphenation);
    wrap(text, options).into_iter().map(std::borrow::Cow::into_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|&cell| cell.to_owned()).collect()
    }

    #[test]
    fn a_table_sets_numbers_to_the_right() {
        let rows = [row(&["metres", "land", "owner"]), row(&["2.0", "a road", "-"]), row(&["1250.5", "12", "Ann"])];
        let below_zero = [row(&["at", "fall m", "ends"]), row(&["a", "-0.25", "-"]), row(&["b", "12.50", "2 of 3"])];
        assert_eq!(table(&below_zero), ["at  fall m  ends", "a    -0.25  -", "b    12.50  2 of 3"]);
        assert_eq!(table(&rows), ["metres  land    owner", "   2.0  a road  -", "1250.5  12      Ann"]);
    }

    #[test]
    fn a_wide_column_takes_several_lines() {
        let long = "parcel 0527-010-001-00200 (The Estate of a Person with a Very Long Name)";
        let found = table(&[row(&["at m", "onto", "by"]), row(&["12.0", long, "overland"])]);
        assert!(found.len() > 2 && found.iter().all(|line| line.chars().count() <= COLUMNS - 2), "{found:?}");
        assert!(found[1].starts_with("12.0  parcel 0527-010-001-00200") && found[1].ends_with("overland"), "{found:?}");
    }

    #[test]
    fn a_number_with_hyphens_stays_whole() {
        let text = format!("{} parcel 0527-010-001-00200", "a".repeat(60));
        assert_eq!(wrapped(&text, "")[1], "  0527-010-001-00200");
    }
}
