//! What is wrong with an input, said so that its owner can mend it.

use std::fmt;
use std::path::Path;

use thiserror::Error;

/// One fault in an input file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Problem {
    /// Path as given in the case.
    pub file: String,
    pub layer: Option<String>,
    pub feature: Option<String>,
    pub found: String,
    pub expected: String,
    /// What to do about it.
    pub hint: String,
}

impl Problem {
    pub(crate) fn in_file(
        file: &Path,
        found: impl Into<String>,
        expected: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            file: file.display().to_string(),
            layer: None,
            feature: None,
            found: found.into(),
            expected: expected.into(),
            hint: hint.into(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(layer) = &self.layer {
            write!(f, ", layer {layer}")?;
        }
        if let Some(feature) = &self.feature {
            write!(f, ", feature {feature}")?;
        }
        write!(f, ": found {}; expected {}\n  hint: {}", self.found, self.expected, self.hint)
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
