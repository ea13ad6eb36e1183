//! What the reader of a table asks for: each key with what it may hold and what its absence means.

use super::range::Range;

/// A key that a table may have.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Key {
    pub(crate) name: &'static str,
    pub(crate) holds: Holds,
    pub(crate) absent: Absent,
}

/// What a key may hold.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Holds {
    Text,
    /// One of a few words.
    Word(Vec<&'static str>),
    /// A year, month or day.
    Date,
    Number(Range),
    File,
    /// A path, or a table with `source`, `layer` and `repair`.
    PolygonLayer,
    /// True or false.
    Flag,
    /// A list of files and patterns.
    Files,
    /// Texts under names of the user's own.
    Words,
    Table,
    /// Any number of tables.
    Tables,
}

impl Holds {
    pub(crate) const fn is_table(&self) -> bool {
        matches!(self, Self::Table | Self::Tables)
    }
}

/// What it means that a key is not there.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Absent {
    /// That there is nothing to say.
    Nothing,
    Refused,
    /// The same as this value.
    Means(String),
}
