//! Exit codes.

use std::process::ExitCode;

/// How the program ends; the numbers are a promise to scripts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    Done = 0,
    /// Something failed while running: a full disk, for instance.
    Failed = 1,
    /// The command line cannot be followed.
    Usage = 2,
    /// An input has problems; nothing was written.
    Refused = 3,
    /// Done, but `--strict` was given and some parcels are undecided.
    Undecided = 4,
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}
