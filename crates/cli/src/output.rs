//! Flags of the commands that write or judge.

use std::path::PathBuf;

use clap::Args;
use fallwright::Output;

use crate::common::OUTPUT;

#[derive(Debug, Args)]
pub(crate) struct Out {
    /// Folder to write into
    #[arg(long, value_name = "DIR", help_heading = OUTPUT)]
    out: PathBuf,

    /// Write into an output folder that is not empty
    #[arg(long, help_heading = OUTPUT)]
    overwrite: bool,
}

impl Out {
    pub(crate) fn output(&self) -> Output<'_> {
        Output { folder: &self.out, overwrite: self.overwrite }
    }
}

#[derive(Debug, Args)]
pub(crate) struct Strict {
    /// Exit with 4 where parcels remain undecided
    #[arg(long, help_heading = OUTPUT)]
    strict: bool,
}

impl Strict {
    /// The undecided parcels that make the command exit with 4.
    pub(crate) fn counted(&self, undecided: usize) -> usize {
        if self.strict { undecided } else { 0 }
    }
}
