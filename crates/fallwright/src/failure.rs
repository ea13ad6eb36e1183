//! Why a command gave no result, and what every command is told.

use std::convert::Infallible;

use fallwright_geodata::{GeodataError, OutputError, Problem};
use thiserror::Error;

/// What every command is told besides its own arguments.
#[derive(Clone, Copy, Debug)]
pub struct Settings {
    /// Memory that the run may use.
    pub max_memory_bytes: u64,
    /// Whether files in the output folder may be replaced.
    pub overwrite: bool,
}

/// The part of the memory allowed that GDAL may keep of files: a sixteenth, 16 MiB to 256 MiB (our choice).
pub(crate) fn cache_bytes(settings: &Settings) -> u64 {
    (settings.max_memory_bytes / 16).clamp(LEAST_CACHE, MOST_CACHE)
}

/// The least memory allowed that leaves so much besides GDAL's part.
pub(crate) fn with_cache(bytes: u64) -> u64 {
    bytes.saturating_add((bytes / 15).clamp(LEAST_CACHE, MOST_CACHE))
}

const LEAST_CACHE: u64 = 16 << 20;
const MOST_CACHE: u64 = 256 << 20;

#[derive(Debug, Error)]
pub enum Failure {
    /// The input cannot be used; every fault found.
    #[error("the input has {} fault(s)", .0.len())]
    Refused(Vec<Problem>),
    /// The command was asked for something that is not there.
    #[error("{0}")]
    Usage(String),
    /// The run itself failed.
    #[error("{0}")]
    Failed(String),
}

impl From<Vec<Problem>> for Failure {
    fn from(problems: Vec<Problem>) -> Self {
        Self::Refused(problems)
    }
}

impl From<GeodataError> for Failure {
    fn from(error: GeodataError) -> Self {
        Self::Failed(error.to_string())
    }
}

impl From<Infallible> for Failure {
    fn from(never: Infallible) -> Self {
        match never {}
    }
}

impl From<OutputError> for Failure {
    fn from(error: OutputError) -> Self {
        match error {
            OutputError::NotEmpty { .. } => Self::Usage(format!("{error}; add --overwrite to replace what is in it")),
            error => Self::Failed(error.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_memory_leaves_what_is_needed_besides_the_cache() {
        let left = |max_memory_bytes| max_memory_bytes - cache_bytes(&Settings { max_memory_bytes, overwrite: false });
        for bytes in [0, 1 << 20, 240 << 20, 241 << 20, 1 << 30, 3840 << 20, 3841 << 20, 1 << 40] {
            let least = with_cache(bytes);
            assert!(left(least) >= bytes && (least == LEAST_CACHE || left(least - 2) <= bytes), "{bytes}: {least}");
        }
    }
}
