//! Why a PDF cannot be made.

use std::fmt;

use thiserror::Error;

#[derive(Debug, Error)]
pub(crate) enum PdfError {
    #[error("not a TrueType or OpenType font")]
    NotAFont,
    #[error("page {page} cannot be read as SVG: {reason}")]
    Svg { page: usize, reason: String },
    #[error("the fonts lack {} of the sheets' characters", .0.len())]
    MissingGlyphs(Vec<MissingGlyph>),
    #[error("the PDF cannot be written: {0}")]
    Writing(String),
}

/// A character without a glyph.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct MissingGlyph {
    pub character: char,
    /// The first line of text that holds it.
    pub text: String,
    /// Lines of text that hold it.
    pub lines: usize,
}

impl fmt::Display for MissingGlyph {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} (U+{:04X}) in {:?}", self.character, u32::from(self.character), self.text)?;
        match self.lines - 1 {
            0 => Ok(()),
            1 => f.write_str(" and 1 more line"),
            more => write!(f, " and {more} more lines"),
        }
    }
}
