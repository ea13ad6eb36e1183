use std::path::PathBuf;

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use fallwright::commands::{self, TerrainOptions};
use fallwright::report::terminal;
use fallwright::{DEEPEST_CUT_M, LONGEST_CUT_M};
use fallwright_units::VerticalUnit;
use serde_json::json;

use crate::common::Common;
use crate::exit::Exit;
use crate::metres::metres;
use crate::outcome::Outcome;
use crate::output::Out;
use crate::run::run_watched;

const UNITS: [VerticalUnit; 3] = [VerticalUnit::Metre, VerticalUnit::InternationalFoot, VerticalUnit::UsSurveyFoot];

const AFTER_HELP: &str = "\
Examples:
  fallwright terrain demo/elevation.tif --out results
  fallwright terrain dem.tif --out results --vertical-unit us-ft
  fallwright terrain dem.tif --out results --longest-cut 0";

/// Conditioned surface, flow direction and area draining of an elevation model, alone
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Terrain {
    /// Elevation raster
    dem: PathBuf,

    /// Unit of the heights, where the raster does not say
    #[arg(long, value_name = "UNIT", value_parser = unit_parser(), help_heading = "Input")]
    vertical_unit: Option<VerticalUnit>,

    #[command(flatten)]
    out: Out,

    /// Cut barriers up to this long (metres) where that moves less than filling; 0 only fills
    #[arg(long, value_name = "M", default_value_t = LONGEST_CUT_M, value_parser = metres, help_heading = "Conditioning")]
    longest_cut: f64,

    /// Cut barriers up to this deep (metres)
    #[arg(long, value_name = "M", default_value_t = DEEPEST_CUT_M, value_parser = metres, help_heading = "Conditioning")]
    deepest_cut: f64,

    /// Write the area draining spread over two neighbours as well: a picture of wetness
    #[arg(long, help_heading = "Output")]
    spread: bool,

    #[command(flatten)]
    common: Common,
}

fn unit_parser() -> impl TypedValueParser<Value = VerticalUnit> {
    PossibleValuesParser::new(UNITS.map(VerticalUnit::name))
        .try_map(|name| UNITS.into_iter().find(|unit| unit.name() == name).ok_or("no unit of this name"))
}

impl Terrain {
    pub(crate) fn run(self) -> Exit {
        let options = TerrainOptions {
            vertical_unit: self.vertical_unit,
            longest_cut_m: self.longest_cut,
            deepest_cut_m: self.deepest_cut,
            spread: self.spread,
        };
        run_watched(&self.common, |budget, watch| {
            let output = self.out.output();
            let counts = commands::terrain(&self.dem, &options, &output, budget, watch)?;
            Ok(Outcome {
                lines: terminal::terrain::terrain(&counts, &self.dem, output.folder),
                json: json!({ "out": output.folder.display().to_string(), "counts": counts }),
                undecided: 0,
            })
        })
    }
}
