//! What is wrong with an input, said so that its owner can mend it.

use std::fmt;
use std::path::Path;

use thiserror::Error;

/// One fault in an input file.
///
/// # Examples
///
/// ```
/// use fallwright_geodata::Problem;
///
/// let problem = Problem::in_file("case.toml", "an unknown key", "keys of a case file", "did you mean terrain?");
/// let message = "case.toml, key terrain2: found an unknown key; expected keys of a case file\n  hint: did you mean terrain?";
/// assert_eq!(problem.at_key("terrain2").to_string(), message);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Problem {
    /// Path as given in the case.
    pub file: String,
    pub layer: Option<String>,
    /// `None` where the whole file or layer is at fault.
    pub at: Option<At>,
    pub found: String,
    pub expected: String,
    /// What to do about it.
    pub hint: String,
}

/// A place in a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum At {
    /// Dotted key of a TOML file; entries of a list are counted from 1, as in `waterways[2].class`.
    Key(String),
    /// Line of a text file, from 1.
    Line(usize),
    /// Row of a CSV file; the header is row 1.
    Row(u64),
    /// Feature of a layer, by its id or by its number in the file, from 1.
    Feature(String),
}

impl Problem {
    /// A fault of a whole file.
    pub fn in_file(
        file: impl AsRef<Path>,
        found: impl Into<String>,
        expected: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            file: file.as_ref().display().to_string(),
            layer: None,
            at: None,
            found: found.into(),
            expected: expected.into(),
            hint: hint.into(),
        }
    }

    #[must_use]
    pub fn in_layer(self, layer: impl Into<String>) -> Self {
        Self { layer: Some(layer.into()), ..self }
    }

    #[must_use]
    pub fn at_key(self, key: impl Into<String>) -> Self {
        self.at(At::Key(key.into()))
    }

    #[must_use]
    pub fn at_line(self, line: usize) -> Self {
        self.at(At::Line(line))
    }

    #[must_use]
    pub fn at_row(self, row: u64) -> Self {
        self.at(At::Row(row))
    }

    #[must_use]
    pub fn at_feature(self, feature: impl Into<String>) -> Self {
        self.at(At::Feature(feature.into()))
    }

    fn at(self, at: At) -> Self {
        Self { at: Some(at), ..self }
    }
}

impl At {
    /// `key`, `line`, `row` or `feature`.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Key(_) => "key",
            Self::Line(_) => "line",
            Self::Row(_) => "row",
            Self::Feature(_) => "feature",
        }
    }

    /// The key, number or id without its kind.
    pub fn name(&self) -> String {
        match self {
            Self::Key(name) | Self::Feature(name) => name.clone(),
            Self::Line(line) => line.to_string(),
            Self::Row(row) => row.to_string(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(layer) = &self.layer {
            write!(f, ", layer {layer}")?;
        }
        if let Some(at) = &self.at {
            write!(f, ", {at}")?;
        }
        write!(f, ": found {}; expected {}\n  hint: {}", self.found, self.expected, self.hint)
    }
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.kind(), self.name())
    }
}

/// A reference system, a transformation or a raster operation that cannot be had.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum GeodataError {
    #[error("the coordinate reference system {text:?} is not understood: {reason}")]
    UnknownCrs { text: String, reason: String },
    #[error("no transformation from {from} to {to} that keeps to its stated accuracy: {reason}")]
    NoTransformation { from: String, to: String, reason: String },
    #[error("the point ({x}, {y}) cannot be taken from {from} to {to}")]
    PointOutside { x: String, y: String, from: String, to: String },
    #[error("{found} values for a frame of {expected} cells")]
    ValueCount { found: usize, expected: usize },
    #[error("{action} failed: {reason}")]
    Gdal { action: &'static str, reason: String },
}

#[cfg(test)]
mod tests {
    use super::*;

    fn in_file(file: &str) -> Problem {
        Problem::in_file(file, "this", "that", "do so")
    }

    #[test]
    fn a_message_names_the_kind_of_place() {
        let check = |problem: Problem, place: &str| {
            assert_eq!(problem.to_string(), format!("{place}: found this; expected that\n  hint: do so"));
        };
        check(in_file("dem.tif"), "dem.tif");
        check(in_file("case.toml").at_key("waterways[2].class"), "case.toml, key waterways[2].class");
        check(in_file("case.toml").at_line(3), "case.toml, line 3");
        check(in_file("levels.csv").at_row(7), "levels.csv, row 7");
        check(in_file("a.gpkg").in_layer("roads"), "a.gpkg, layer roads");
        check(in_file("a.gpkg").in_layer("roads").at_feature("12"), "a.gpkg, layer roads, feature 12");
    }

    #[test]
    fn a_name_leaves_the_kind_out() {
        let check = |at: At, kind: &str, name: &str| assert_eq!((at.kind(), at.name().as_str()), (kind, name));
        check(At::Key("terrain2".to_owned()), "key", "terrain2");
        check(At::Line(3), "line", "3");
        check(At::Row(7), "row", "7");
        check(At::Feature("D-07".to_owned()), "feature", "D-07");
    }

    #[test]
    fn rows_sort_by_number() {
        let mut problems = [in_file("a.csv").at_row(10), in_file("a.csv").at_row(9), in_file("a.csv")];
        problems.sort();
        assert_eq!(problems.map(|problem| problem.at), [None, Some(At::Row(9)), Some(At::Row(10))]);
    }
}
