//! Why results could not be written.

use std::path::PathBuf;

use fallwright_geodata::{GeodataError, OutputError, Problem};
use fallwright_study::StudyError;
use thiserror::Error;

#[derive(Debug, Error)]
pub enum WriteError {
    #[error(transparent)]
    Study(#[from] StudyError),
    #[error(transparent)]
    Geodata(#[from] GeodataError),
    #[error(transparent)]
    Output(#[from] OutputError),
    /// The input cannot be shown; every fault found.
    #[error("the input has {} fault(s)", .0.len())]
    Refused(Vec<Problem>),
    #[error("the font {}: {reason}", file.display())]
    Font { file: PathBuf, reason: String },
    /// A PDF that cannot be made.
    #[error("{0}")]
    Pdf(String),
    #[error("the workbook cannot be made: {0}")]
    Workbook(String),
    #[error("{} cannot be read: {source}", file.display())]
    Unreadable { file: PathBuf, source: std::io::Error },
    #[error("the output folder {} holds the input {}; name another folder, so that no output takes an input's place", out.display(), input.display())]
    HoldsInput { out: PathBuf, input: PathBuf },
}
