use std::path::PathBuf;

use clap::builder::NonEmptyStringValueParser;
use clap::{ArgGroup, Args};
use fallwright::LeavingFrom;
use fallwright::Place;
use fallwright::report::{arriving_features, leaving_features, terminal};

use crate::common::Common;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::place::{At, BY_ID};
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright trace demo/case.toml --parcel 0527-010-001-00200
  fallwright trace demo/case.toml --parcel 0527-010-001-00200 --upstream
  fallwright trace demo/case.toml --at 402000,4851500 --json

From a parcel it begins with the finding and what to do next, then one row for each land that the water crosses
and for each place it goes to; what carries less than 5 % of the water is counted together. -v adds every path, and
from a point there is nothing else: each lot line in order, whose land it is, the metres and the fall on it, what
carries the water there, who may do maintenance on it and who is notified first. Up the slope it lists where water comes in,
whose it is, how many hectares drain and over whose land, road or culvert they come. --json is GeoJSON; `kind`
says what each feature is.";

/// Whose land the water crosses, in order; with --upstream, whose water arrives
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP, group = ArgGroup::new("place").required(true).args([BY_ID, "at"]))]
pub(crate) struct Trace {
    /// Case file (TOML)
    case: PathBuf,

    /// A parcel by its id
    #[arg(id = BY_ID, long = "parcel", value_name = "ID", value_parser = NonEmptyStringValueParser::new())]
    #[arg(help_heading = "Place")]
    parcel: Option<String>,

    #[command(flatten)]
    at: At,

    /// Look up the slope instead of down
    #[arg(long, help_heading = "Place")]
    upstream: bool,

    #[command(flatten)]
    common: Common,
}

impl Trace {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |budget, progress| {
            let place = self.at.place(self.parcel.map(Place::Parcel))?;
            let study = fallwright::open(&self.case, budget, progress)?;
            let (lines, json) = if self.upstream {
                let water = study.arriving(&place)?;
                (terminal::trace::arriving(&study, &water), arriving_features(&study, &water)?)
            } else {
                let leaving = study.leaving(&place)?;
                let lines = match leaving.from {
                    LeavingFrom::Parcel(parcel) => {
                        let (finding, with_paths) = (study.finding_at(parcel), self.common.is_verbose());
                        terminal::finding::finding(&study, parcel, &finding, &leaving, with_paths)
                    }
                    LeavingFrom::Point { .. } => terminal::trace::leaving(&study, &leaving),
                };
                (lines, leaving_features(&study, &leaving)?)
            };
            Ok(Outcome { lines, json, undecided: 0 })
        })
    }
}
