use std::path::PathBuf;

use clap::Args;
use clap::builder::NonEmptyStringValueParser;
use fallwright::TraceFrom;

use crate::common::Common;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::point::Point;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright trace demo/case.toml --parcel 0527-010-001-00200
  fallwright trace demo/case.toml --parcel 0527-010-001-00200 --upstream
  fallwright trace demo/case.toml --at 402000,4851500 --json";

/// Whose land the water crosses, in order; with --upstream, who drains across the parcel
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Trace {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    place: Place,

    /// Read --at as longitude and latitude in degrees (WGS 84)
    #[arg(long, conflicts_with = "parcel", help_heading = "Place")]
    lonlat: bool,

    /// Look up the slope instead of down
    #[arg(long, help_heading = "Place")]
    upstream: bool,

    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Place {
    /// A parcel by its id
    #[arg(long, value_name = "ID", value_parser = NonEmptyStringValueParser::new(), help_heading = "Place")]
    parcel: Option<String>,

    /// A point in the case's reference system
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true, help_heading = "Place")]
    at: Option<Point>,
}

impl Trace {
    pub(crate) fn run(self) -> Exit {
        let from = match (self.place.parcel, self.place.at) {
            (Some(id), _) => TraceFrom::Parcel(id),
            (None, Some(Point { x, y })) => TraceFrom::Point { x, y, lonlat: self.lonlat },
            (None, None) => unreachable!("the arguments require one of the two"),
        };
        run(&self.common, |settings, progress| {
            if let (Some(point), true) = (self.place.at, self.lonlat) {
                point.check_lonlat()?;
            }
            let report = fallwright::trace(&self.case, &from, self.upstream, settings, progress)?;
            Ok(Outcome { lines: report.lines(), json: report.json(), undecided: 0 })
        })
    }
}
