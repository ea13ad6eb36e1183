use std::path::PathBuf;

use clap::Args;
use fallwright::commands;
use fallwright::report::terminal::check::{check, check_summary};

use crate::common::Common;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright check demo/case.toml
  fallwright check demo/case.toml --json";

/// Read everything, report every problem, estimate time and memory
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Check {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    common: Common,
}

impl Check {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |budget, progress| {
            let checked = commands::check(&self.case, budget, progress)?;
            Ok(Outcome { lines: check(&checked), json: check_summary(&checked), undecided: 0 })
        })
    }
}
