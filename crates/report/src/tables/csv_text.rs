//! Texts in tables that spreadsheets read.

/// Text that a spreadsheet would take for a formula gets an apostrophe before it.
pub(super) fn as_csv_text(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_owned() }
}

/// The text as it was before [`as_csv_text`], for cells that are known to be text.
pub(super) fn plain_text(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|text| as_csv_text(text) == cell).unwrap_or(cell)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_is_a_formula() {
        let check = |text, expected| assert_eq!(as_csv_text(text), expected);
        check("=SUM(A1)", "'=SUM(A1)");
        check("@x", "'@x");
        check("-5", "'-5");
        check("0527-010", "0527-010");
    }

    #[test]
    fn a_cell_that_is_text_needs_no_apostrophe() {
        for text in ["=SUM(A1)", "@x", "-5", "0527-010", "", "'quoted'"] {
            assert_eq!(plain_text(&as_csv_text(text)), text);
        }
    }
}
