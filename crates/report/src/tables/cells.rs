//! Values of cells, in the form in which they are written.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use super::csv_text::as_csv_text;

/// A text from the data; never a live formula of a spreadsheet.
#[derive(Clone, Debug, PartialEq, Eq, JsonSchema)]
#[schemars(transparent)]
pub(crate) struct Text(String);

impl<T: AsRef<str>> From<T> for Text {
    fn from(text: T) -> Self {
        Self(as_csv_text(text.as_ref()))
    }
}

impl Serialize for Text {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

/// A number with the decimals it has: `12`, `0.3`.
#[derive(Clone, Copy, Debug, PartialEq, JsonSchema)]
#[schemars(transparent)]
pub(crate) struct Decimal(pub f64);

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0)
    }
}

/// A number with three decimals: `12.000`.
#[derive(Clone, Copy, Debug, PartialEq, JsonSchema)]
#[schemars(transparent)]
pub(crate) struct Millis(pub f64);

impl Serialize for Millis {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{:.3}", self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(cell: impl Serialize, expected: &str) {
        let mut csv = csv::Writer::from_writer(Vec::new());
        csv.serialize((cell, "")).unwrap();
        assert_eq!(String::from_utf8(csv.into_inner().unwrap()).unwrap(), format!("{expected},\n"));
    }

    #[test]
    fn cells_are_written_plainly() {
        check(Text::from("=SUM(A1)"), "'=SUM(A1)");
        check(Text::from("0527-010"), "0527-010");
        check(Decimal(12.0), "12");
        check(Decimal(1e-6), "0.000001");
        check(Decimal(-0.3), "-0.3");
        check(None::<Decimal>, "");
        check(Millis(12.0), "12.000");
        check(Millis(-0.0625), "-0.062");
    }
}
