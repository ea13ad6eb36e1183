use std::path::PathBuf;

use clap::Args;
use clap::builder::NonEmptyStringValueParser;
use fallwright::WatershedAt;

use crate::common::Common;
use crate::exit::Exit;
use crate::metres::metres;
use crate::outcome::Outcome;
use crate::point::Point;
use crate::run::run;

const AFTER_HELP: &str = "\
Examples:
  fallwright watershed demo/case.toml --outlet D-07 --out results
  fallwright watershed demo/case.toml --at 402000,4851500 --snap 20 --out results
  fallwright watershed demo/case.toml --at -82.22,43.81 --lonlat --out results";

/// The land that drains to an outlet or a point, and whose it is
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Watershed {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    place: Place,

    /// Move --at to the nearest cell of the main channel within so many metres
    #[arg(long, value_name = "M", conflicts_with = "outlet", value_parser = metres, help_heading = "Place")]
    #[arg(allow_negative_numbers = true)]
    snap: Option<f64>,

    /// Read --at as longitude and latitude in degrees (WGS 84)
    #[arg(long, conflicts_with = "outlet", help_heading = "Place")]
    lonlat: bool,

    /// Folder to write into
    #[arg(long, value_name = "DIR", help_heading = "Output")]
    out: PathBuf,

    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Place {
    /// A waterway by its id
    #[arg(long, value_name = "ID", value_parser = NonEmptyStringValueParser::new(), help_heading = "Place")]
    outlet: Option<String>,

    /// A point in the case's reference system
    #[arg(long, value_name = "X,Y", allow_hyphen_values = true, help_heading = "Place")]
    at: Option<Point>,
}

impl Watershed {
    pub(crate) fn run(self) -> Exit {
        let at = match (self.place.outlet, self.place.at) {
            (Some(id), _) => WatershedAt::Outlet(id),
            (None, Some(Point { x, y })) => WatershedAt::Point { x, y, lonlat: self.lonlat, snap_m: self.snap },
            (None, None) => unreachable!("the arguments require one of the two"),
        };
        run(&self.common, |settings, progress| {
            if let (Some(point), true) = (self.place.at, self.lonlat) {
                point.check_lonlat()?;
            }
            let report = fallwright::watershed(&self.case, &at, &self.out, settings, progress)?;
            Ok(Outcome { lines: report.lines(), json: report.json(), undecided: 0 })
        })
    }
}
