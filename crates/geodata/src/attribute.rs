//! Attribute values of vector features.

/// One attribute value, as the file holds it.
#[derive(Clone, Debug, PartialEq)]
pub enum Attribute {
    Null,
    Text(String),
    Integer(i64),
    Real(f64),
    List(Vec<String>),
}

/// Largest whole number up to which every whole number has its own `f64`: 2⁵³ (IEEE 754 binary64).
const LARGEST_EXACT_WHOLE: f64 = 9_007_199_254_740_992.0;

impl Attribute {
    /// The value as text, for identifiers and names: integers as decimal digits, whole reals without `.0`, text
    /// trimmed. `None` for null, blank text, lists, and reals too large to name one whole number.
    pub fn text(&self) -> Option<String> {
        match self {
            Self::Text(text) => Some(text.trim().to_owned()).filter(|text| !text.is_empty()),
            Self::Integer(value) => Some(value.to_string()),
            Self::Real(value) if value.is_finite() && value.abs() < LARGEST_EXACT_WHOLE => Some(value.to_string()),
            Self::Null | Self::List(_) | Self::Real(_) => None,
        }
    }

    /// The value as a finite number; text is read as a decimal number.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Null | Self::List(_) => None,
            Self::Text(text) => text.trim().parse().ok().filter(|value: &f64| value.is_finite()),
            Self::Integer(value) => Some(*value as f64),
            Self::Real(value) => Some(*value).filter(|value| value.is_finite()),
        }
    }

    /// The value as a list: a list attribute, or text split at `;` or `,`; blank items are left out.
    pub fn list(&self) -> Vec<String> {
        match self {
            Self::List(items) => trimmed(items.iter().map(String::as_str)),
            Self::Text(text) => trimmed(text.split([';', ','])),
            other => other.text().into_iter().collect(),
        }
    }

    /// The value as yes or no: 1 or 0, or the words true, yes, y, t, false, no, n, f in any case.
    pub fn flag(&self) -> Option<bool> {
        match self.text()?.to_lowercase().as_str() {
            "1" | "true" | "yes" | "y" | "t" => Some(true),
            "0" | "false" | "no" | "n" | "f" => Some(false),
            _ => None,
        }
    }
}

fn trimmed<'a>(items: impl Iterator<Item = &'a str>) -> Vec<String> {
    items.map(str::trim).filter(|item| !item.is_empty()).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: &str) -> Attribute {
        Attribute::Text(value.to_owned())
    }

    #[test]
    fn identifiers_stay_as_written() {
        let check = |value: Attribute, expected: Option<&str>| assert_eq!(value.text().as_deref(), expected);
        check(text("0042"), Some("0042"));
        check(text(" 12 "), Some("12"));
        check(text("  "), None);
        check(Attribute::Integer(393_611_001_010_100), Some("393611001010100"));
        check(Attribute::Integer(i64::MAX), Some("9223372036854775807"));
        check(Attribute::Real(12.0), Some("12"));
        check(Attribute::Real(12.5), Some("12.5"));
        check(Attribute::Real(9_007_199_254_740_992.0), None);
        check(Attribute::Real(f64::NAN), None);
        check(Attribute::Null, None);
    }

    #[test]
    fn numbers_are_finite() {
        let check = |value: Attribute, expected: Option<f64>| assert_eq!(value.number(), expected);
        check(text(" 3.5 "), Some(3.5));
        check(text("three"), None);
        check(text("inf"), None);
        check(Attribute::Integer(7), Some(7.0));
        check(Attribute::Real(f64::INFINITY), None);
        check(Attribute::Null, None);
    }

    #[test]
    fn lists_come_from_lists_or_from_text() {
        let check = |value: Attribute, expected: &[&str]| assert_eq!(value.list(), expected);
        check(text("001; 002,003;"), &["001", "002", "003"]);
        check(Attribute::List(vec!["a".into(), " b ".into(), String::new()]), &["a", "b"]);
        check(Attribute::Integer(5), &["5"]);
        check(Attribute::Null, &[]);
    }

    #[test]
    fn flags_are_yes_or_no_words() {
        let check = |value: Attribute, expected: Option<bool>| assert_eq!(value.flag(), expected);
        check(text("Yes"), Some(true));
        check(text("n"), Some(false));
        check(text("perhaps"), None);
        check(Attribute::Integer(1), Some(true));
        check(Attribute::Integer(0), Some(false));
        check(Attribute::Integer(2), None);
        check(Attribute::Null, None);
    }
}
