//! The one error of the library.

use std::convert::Infallible;

use fallwright_geodata::{GeodataError, OutputError, Problem};
use fallwright_report::WriteError;
use fallwright_study::StudyError;
use thiserror::Error;

/// Why there is no result. Every source is kept.
#[derive(Debug, Error)]
pub enum Error {
    /// The input cannot be used; every fault found.
    #[error("the input has {} fault(s)", .0.len())]
    Refused(Vec<Problem>),
    #[error(transparent)]
    Study(Box<StudyError>),
    #[error(transparent)]
    Write(Box<WriteError>),
    #[error("{source}{}", hint(source))]
    Output { source: Box<OutputError> },
    #[error(transparent)]
    Geodata(Box<GeodataError>),
}

/// What the caller can do about an [`enum@Error`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ErrorKind {
    /// Mend the input.
    Refused,
    /// Ask for something else: what was asked for is not there, or would be harmful.
    Usage,
    /// The run itself failed.
    Failed,
}

impl Error {
    pub fn kind(&self) -> ErrorKind {
        let is_usage = match self {
            Self::Refused(_) => return ErrorKind::Refused,
            Self::Study(error) => matches!(
                **error,
                StudyError::NoSuch { .. }
                    | StudyError::NoParcels { .. }
                    | StudyError::NothingToDrain { .. }
                    | StudyError::NotOnElevation { .. }
                    | StudyError::NoElevation { .. }
                    | StudyError::GapInElevation { .. }
                    | StudyError::OtherPlace { .. }
            ),
            Self::Write(error) => matches!(**error, WriteError::HoldsInput { .. } | WriteError::Font { .. }),
            Self::Output { source } => matches!(**source, OutputError::NotEmpty { .. }),
            Self::Geodata(_) => false,
        };
        if is_usage { ErrorKind::Usage } else { ErrorKind::Failed }
    }
}

fn hint(error: &OutputError) -> &'static str {
    match error {
        OutputError::NotEmpty { .. } => "; add --overwrite to replace what is in it",
        _ => "",
    }
}

impl From<Vec<Problem>> for Error {
    fn from(problems: Vec<Problem>) -> Self {
        Self::Refused(problems)
    }
}

impl From<StudyError> for Error {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Refused(problems) => Self::Refused(problems),
            error => Self::Study(Box::new(error)),
        }
    }
}

impl From<WriteError> for Error {
    fn from(error: WriteError) -> Self {
        match error {
            WriteError::Refused(problems) => Self::Refused(problems),
            WriteError::Study(error) => error.into(),
            WriteError::Output(error) => error.into(),
            WriteError::Geodata(error) => error.into(),
            error => Self::Write(Box::new(error)),
        }
    }
}

impl From<OutputError> for Error {
    fn from(error: OutputError) -> Self {
        Self::Output { source: Box::new(error) }
    }
}

impl From<GeodataError> for Error {
    fn from(error: GeodataError) -> Self {
        Self::Geodata(Box::new(error))
    }
}

impl From<Infallible> for Error {
    fn from(never: Infallible) -> Self {
        match never {}
    }
}
