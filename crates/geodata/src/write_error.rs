//! What keeps one file from being written.

use std::io;

use crate::GeodataError;

/// What keeps one file from being written.
#[derive(Debug)]
pub(crate) enum WriteError {
    Io(io::Error),
    Encoding(GeodataError),
}

impl From<io::Error> for WriteError {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

impl From<GeodataError> for WriteError {
    fn from(error: GeodataError) -> Self {
        Self::Encoding(error)
    }
}
