//! Texts in tables that spreadsheets read.

/// Text that a spreadsheet would take for a formula gets an apostrophe before it.
pub(super) fn as_csv_text(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{text}") } else { text.to_owned() }
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
}
