use std::fs;
use std::path::PathBuf;

use clap::{Args, CommandFactory};

use crate::cli::Cli;
use crate::exit::Exit;
use crate::log::say;

const AFTER_HELP: &str = "\
Example:
  fallwright man ~/.local/share/man/man1";

/// Write the manual pages, one for each command
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Man {
    /// Folder to write into
    dir: PathBuf,
}

impl Man {
    pub(crate) fn run(self) -> Exit {
        let written = fs::create_dir_all(&self.dir).and_then(|()| clap_mangen::generate_to(Cli::command(), &self.dir));
        match written {
            Ok(()) => Exit::Done,
            Err(error) => {
                say(&format!("error: {}: the manual pages cannot be written: {error}", self.dir.display()));
                Exit::Failed
            }
        }
    }
}
