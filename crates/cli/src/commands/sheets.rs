use std::path::PathBuf;

use clap::Args;
use fallwright::SheetsOptions;

use crate::common::Common;
use crate::date;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright sheets demo/case.toml --out sheets";

/// An overview page that opens in any browser without network, printable sheets and profiles
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Sheets {
    /// Case file (TOML)
    case: PathBuf,

    /// Folder to write into
    #[arg(long, value_name = "DIR", help_heading = "Output")]
    out: PathBuf,

    #[command(flatten)]
    common: Common,
}

impl Sheets {
    pub(crate) fn run(self) -> Exit {
        let options = SheetsOptions { run_date: date::today() };
        run(&self.common, |settings, progress| {
            let report = fallwright::sheets(&self.case, &self.out, &options, settings, progress)?;
            Ok(Outcome { lines: report.lines(), json: report.json(), undecided: report.undecided })
        })
    }
}
