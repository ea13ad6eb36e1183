//! Why a command ends without a result.

use fallwright::{Error, ErrorKind};
use thiserror::Error as ThisError;

use crate::exit::Exit;

#[derive(Debug, ThisError)]
pub(crate) enum Failure {
    #[error(transparent)]
    Library(#[from] Error),
    #[error("{0}")]
    Usage(String),
    #[error("{0}")]
    Failed(String),
}

impl Failure {
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Self::Library(error) => match error.kind() {
                ErrorKind::Refused => Exit::Refused,
                ErrorKind::Usage => Exit::Usage,
                ErrorKind::Failed => Exit::Failed,
            },
            Self::Usage(_) => Exit::Usage,
            Self::Failed(_) => Exit::Failed,
        }
    }
}

impl From<fallwright::report::WriteError> for Failure {
    fn from(error: fallwright::report::WriteError) -> Self {
        Error::from(error).into()
    }
}

impl From<fallwright::StudyError> for Failure {
    fn from(error: fallwright::StudyError) -> Self {
        Error::from(error).into()
    }
}
