use clap::{Args, CommandFactory};
use clap_complete::Shell;

use crate::cli::Cli;
use crate::exit::Exit;
use crate::log::say;
use crate::outcome::print;

const AFTER_HELP: &str = "\
Example:
  fallwright completions bash > ~/.local/share/bash-completion/completions/fallwright";

/// Print the completions of a shell
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Completions {
    /// Which shell
    shell: Shell,
}

impl Completions {
    pub(crate) fn run(self) -> Exit {
        let mut script = Vec::new();
        clap_complete::generate(self.shell, &mut Cli::command(), "fallwright", &mut script);
        match print(&String::from_utf8_lossy(&script)) {
            Ok(()) => Exit::Done,
            Err(error) => {
                say(&format!("error: standard output cannot be written: {error}"));
                Exit::Failed
            }
        }
    }
}
