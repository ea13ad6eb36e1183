use std::path::PathBuf;

use clap::Args;
use clap::builder::PossibleValuesParser;
use fallwright::commands::{self, Pdf};
use fallwright::report::terminal;
use fallwright::{Paper, SheetParcels, SheetsOptions};
use serde_json::json;

use crate::common::Common;
use crate::date;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::output::{Out, Strict};
use crate::run::run;

const AFTER_HELP: &str = "\
Without --parcel the page, the situation, the places to check and the drains' profiles are drawn. PDFs are set in \
DejaVu Sans, which is part of the program; a character that it lacks is refused by name unless a --font has it.

Examples:
  fallwright sheets demo/case.toml --out sheets
  fallwright sheets demo/case.toml --out sheets --parcel 0527-030-005-00420
  fallwright sheets demo/case.toml --out sheets --all-parcels --paper a4";

/// An overview page that opens in any browser without network, printable sheets and profiles
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP)]
pub(crate) struct Sheets {
    /// Case file (TOML)
    case: PathBuf,

    #[command(flatten)]
    out: Out,

    /// Draw this parcel's sheets, letters and profiles as well; may be given several times
    #[arg(long, value_name = "ID", help_heading = "Output")]
    parcel: Vec<String>,

    /// The same for every parcel
    #[arg(long, conflicts_with = "parcel", help_heading = "Output")]
    all_parcels: bool,

    #[arg(long, value_name = "SIZE", default_value = "letter", help = "Paper of the sheets", help_heading = "Output")]
    #[arg(value_parser = PossibleValuesParser::new(Paper::ALL.map(Paper::name)))]
    paper: String,

    /// Leave PDFs out
    #[arg(long, help_heading = "Output")]
    no_pdf: bool,

    /// Font (TrueType, OpenType) for characters that the PDFs' own font lacks; may be given several times
    #[arg(long, value_name = "FILE", conflicts_with = "no_pdf", help_heading = "Output")]
    font: Vec<PathBuf>,

    #[command(flatten)]
    strict: Strict,

    #[command(flatten)]
    common: Common,
}

impl Sheets {
    pub(crate) fn run(self) -> Exit {
        let parcels = match (self.all_parcels, self.parcel.is_empty()) {
            (true, _) => SheetParcels::All,
            (false, true) => SheetParcels::None,
            (false, false) => SheetParcels::Ids(self.parcel.clone()),
        };
        let paper = Paper::named(&self.paper).unwrap_or_default();
        let options = SheetsOptions { run_date: date::today(), parcels, paper, fonts: self.font.clone() };
        let pdf = if self.no_pdf { Pdf::LeftOut } else { Pdf::Drawn };
        run(&self.common, |budget, progress| {
            let output = self.out.output();
            let written = commands::sheets(&self.case, &output, (&options, pdf), budget, progress)?;
            Ok(Outcome {
                lines: terminal::sheets::sheets(&written, output.folder),
                json: json!({ "out": output.folder, "files": written.files, "counts": written.counts }),
                undecided: self.strict.counted(written.counts.undecided),
            })
        })
    }
}
