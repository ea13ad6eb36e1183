use std::path::PathBuf;

use clap::Args;
use fallwright::report::terminal;
use fallwright::{OutletsExtras, commands};
use serde_json::json;

use crate::common::Common;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::output::{Out, Strict};
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright outlets demo/case.toml --out results
  fallwright outlets demo/case.toml --out results --gpkg --overwrite
  fallwright outlets demo/case.toml --out results --strict --json";

/// The main job: every parcel's standing, its water's paths and the land they cross
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Outlets {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    out: Out,

    #[arg(long, help = "Write the layers into one GeoPackage as well, in the case's reference system")]
    #[arg(help_heading = "Output")]
    gpkg: bool,

    /// Write the area draining spread over two neighbours as well: a picture of wetness
    #[arg(long, help_heading = "Output")]
    spread: bool,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

impl Outlets {
    pub(crate) fn run(self) -> Exit {
        let extras = OutletsExtras { geopackage: self.gpkg, spread: self.spread };
        run(&self.common, |budget, progress| {
            let output = self.out.output();
            let done = commands::outlets(&self.case, &output, extras, budget, progress)?;
            Ok(Outcome {
                lines: terminal::outlets::outlets(&done.study, &done.standings, output.folder),
                json: json!({ "out": output.folder, "counts": done.counts }),
                undecided: self.strict.counted(done.counts.undecided),
            })
        })
    }
}
