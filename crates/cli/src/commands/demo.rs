use std::path::PathBuf;

use clap::Args;
use fallwright::Error;
use fallwright_demo::DemoError;
use serde_json::json;

use crate::common::{Common, OUTPUT};
use crate::exit::Exit;
use crate::failure::Failure;
use crate::outcome::Outcome;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright demo demo
  fallwright outlets demo/case.toml --out results";

/// Write the demonstration case: DIR/case.toml and its data, all of it invented
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Demo {
    /// Folder to write into
    dir: PathBuf,

    /// Write into a folder that is not empty
    #[arg(long, help_heading = OUTPUT)]
    overwrite: bool,

    #[command(flatten)]
    common: Common,
}

impl Demo {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |_, progress| {
            progress("writing the demonstration case");
            fallwright_demo::write_case(&self.dir, self.overwrite).map_err(|error| match error {
                DemoError::Output(error) => Error::from(error).into(),
                error @ DemoError::Crs(_) => Failure::Failed(error.to_string()),
            })?;
            let case = self.dir.join("case.toml");
            Ok(Outcome {
                lines: vec![format!("wrote the demonstration case {}, all of it invented", case.display())],
                json: json!({ "case": case }),
                undecided: 0,
            })
        })
    }
}
