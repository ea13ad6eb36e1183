//! The command line as a whole.

use clap::{Parser, Subcommand};

use crate::commands::{Capacity, Check, Completions, Demo, Man, Outlets, Petition, Sheets, Terrain, Trace, Watershed};
use crate::exit::Exit;

const LONG_ABOUT: &str = "\
Traces every field over an elevation model to a natural watercourse or a legal drain, and says which parcels have a right \
of drainage, whose land their water crosses and what it would take to acquire an outlet where there is none.

The findings are a screening, not a survey and not a legal opinion. Only a court decides a right. Confirm with the \
municipality and with licensed engineers and surveyors before anything is built.";

const AFTER_HELP: &str = "\
Examples:
  fallwright demo demo                       write the demonstration case
  fallwright check demo/case.toml            read everything, report every problem
  fallwright outlets demo/case.toml --out results
  fallwright trace demo/case.toml --parcel 0527-010-001-00200
  fallwright sheets demo/case.toml --out sheets

Exit codes:
  0  done                      3    input refused
  1  failed while running      4    done, but --strict was given and some parcels are undecided
  2  wrong usage               130  interrupted";

/// Drainage outlets: where each parcel's water goes, and by what right
#[derive(Debug, Parser)]
#[command(name = "fallwright", version, long_about = LONG_ABOUT, after_help = AFTER_HELP, disable_help_subcommand = true)]
pub(crate) struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Demo(Demo),
    Check(Check),
    Outlets(Outlets),
    Watershed(Watershed),
    Trace(Trace),
    Capacity(Capacity),
    Petition(Petition),
    Terrain(Terrain),
    Sheets(Sheets),
    Completions(Completions),
    Man(Man),
}

impl Cli {
    pub(crate) fn run(self) -> Exit {
        match self.command {
            Command::Demo(demo) => demo.run(),
            Command::Check(check) => check.run(),
            Command::Outlets(outlets) => outlets.run(),
            Command::Watershed(watershed) => watershed.run(),
            Command::Trace(trace) => trace.run(),
            Command::Capacity(capacity) => capacity.run(),
            Command::Petition(petition) => petition.run(),
            Command::Terrain(terrain) => terrain.run(),
            Command::Sheets(sheets) => sheets.run(),
            Command::Completions(completions) => completions.run(),
            Command::Man(man) => man.run(),
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_consistent() {
        super::Cli::command().debug_assert();
    }
}
