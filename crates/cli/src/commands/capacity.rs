use std::path::PathBuf;

use clap::Args;
use fallwright::report::terminal;
use fallwright::{AddedLand, commands};
use serde_json::json;

use crate::added_land::added_land;
use crate::common::Common;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::output::Out;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright capacity demo/case.toml --out results
  fallwright capacity demo/case.toml --out results --add 0527-010-006-00200=12mm/d
  fallwright capacity demo/case.toml --out results --add 0527-010-006-00200=0.5in/d

Sizes are for screening; a licensed engineer designs.";

/// Is the outlet big enough, all the way down
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Capacity {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    out: Out,

    /// Drain a parcel's remaining land by pipe at so many mm/d or in/d, to see the effect; may be repeated
    #[arg(long, value_name = "PARCEL=12mm/d", value_parser = added_land, help_heading = "What if")]
    add: Vec<AddedLand>,

    #[command(flatten)]
    common: Common,
}

impl Capacity {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |budget, progress| {
            let output = self.out.output();
            let done = commands::capacity(&self.case, &output, &self.add, budget, progress)?;
            Ok(Outcome {
                lines: terminal::capacity::capacity(&done.study, &done.capacity, output.folder),
                json: json!({ "out": output.folder, "counts": done.counts }),
                undecided: 0,
            })
        })
    }
}
