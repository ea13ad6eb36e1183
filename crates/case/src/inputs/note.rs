//! Notes to the reader of a case.

/// Something that was put right, or that the reader should know.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// Which layer and feature.
    pub about: String,
    pub found: String,
    /// What was done about it.
    pub done: String,
}

impl Note {
    pub fn new(about: impl Into<String>, found: impl Into<String>, done: impl Into<String>) -> Self {
        Self { about: about.into(), found: found.into(), done: done.into() }
    }
}
