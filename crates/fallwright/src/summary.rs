//! Numbers as people are shown them.

/// Hectares with thousands set apart by nothing and two decimals.
pub(crate) fn hectares(value: f64) -> String {
    format!("{value:.2} ha")
}

/// `1 parcel`, `2 parcels`.
pub(crate) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Rows as a table of columns two spaces apart. Columns that are a number in every row but the first are set to the right.
pub(crate) fn table(rows: &[Vec<String>]) -> Vec<String> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
    let width = |column: usize| rows.iter().map(|row| cell(row, column).chars().count()).max().unwrap_or(0);
    let is_number = |column: usize| rows.iter().skip(1).all(|row| cell(row, column).parse::<f64>().is_ok());
    let formats: Vec<(usize, bool)> = (0..columns).map(|column| (width(column), is_number(column))).collect();
    let line = |row: &Vec<String>| {
        let cells = formats.iter().enumerate().map(|(column, &(width, right))| {
            let text = cell(row, column);
            if right { format!("{text:>width$}") } else { format!("{text:<width$}") }
        });
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned()
    };
    rows.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_sets_numbers_to_the_right() {
        let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
        let rows = [row(["metres", "land", "owner"]), row(["2.0", "a road", "-"]), row(["1250.5", "12", "Ann"])];
        let below_zero = [row(["at", "fall m", "ends"]), row(["a", "-0.25", "-"]), row(["b", "12.50", "2 of 3"])];
        assert_eq!(table(&below_zero), ["at  fall m  ends", "a    -0.25  -", "b    12.50  2 of 3"]);
        assert_eq!(table(&rows), ["metres  land    owner", "   2.0  a road  -", "1250.5  12      Ann"]);
    }
}
