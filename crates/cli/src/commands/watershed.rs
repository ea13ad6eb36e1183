use std::path::PathBuf;

use clap::builder::NonEmptyStringValueParser;
use clap::{ArgGroup, Args};
use fallwright::report::terminal;
use fallwright::{Place, commands};
use serde_json::json;

use crate::common::Common;
use crate::exit::Exit;
use crate::metres::metres;
use crate::outcome::Outcome;
use crate::output::Out;
use crate::place::{At, BY_ID};
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright watershed demo/case.toml --outlet D-07 --out results
  fallwright watershed demo/case.toml --at 402000,4851500 --snap 20 --out results
  fallwright watershed demo/case.toml --at -82.22,43.81 --lonlat --out results

watershed.geojson holds the whole and each reach; watershed_parcels.csv each parcel's hectares by reach;
watershed_lands.csv each land once, beside what the drain's schedule assesses, with the hectares that have no
elevation. For a point on a waterway, `downstream` is the land that joins the same waterway farther down.";

/// The land that drains to an outlet or a point, and whose it is
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP, group = ArgGroup::new("place").required(true).args([BY_ID, "at"]))]
pub(crate) struct Watershed {
    /// Case file (TOML)
    case: PathBuf,

    /// A waterway, culvert or pipe by its id
    #[arg(id = BY_ID, long = "outlet", value_name = "ID", value_parser = NonEmptyStringValueParser::new())]
    #[arg(help_heading = "Place")]
    outlet: Option<String>,

    #[command(flatten)]
    at: At,

    /// Move --at to the nearest cell of the main channel within so many metres
    #[arg(long, value_name = "M", conflicts_with = BY_ID, value_parser = metres, help_heading = "Place")]
    #[arg(allow_negative_numbers = true)]
    snap: Option<f64>,

    #[command(flatten)]
    out: Out,

    #[command(flatten)]
    common: Common,
}

impl Watershed {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |budget, progress| {
            let place = self.at.place(self.outlet.map(Place::Outlet))?;
            let output = self.out.output();
            let at = (&place, self.snap.unwrap_or(0.0));
            let done = commands::watershed(&self.case, at, &output, budget, progress)?;
            let commands::WatershedDone { study, watershed, written } = &done;
            Ok(Outcome {
                lines: terminal::watershed::watershed(study, watershed, &written.records, output.folder),
                json: json!({ "out": output.folder, "at": written.place, "counts": written.counts }),
                undecided: 0,
            })
        })
    }
}
