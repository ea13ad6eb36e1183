use std::path::PathBuf;

use clap::builder::{NonEmptyStringValueParser, PossibleValuesParser};
use clap::{ArgGroup, Args};
use fallwright::report::terminal;
use fallwright::{Paper, Place, RaisedBy, commands};
use serde_json::json;

use crate::common::{Common, OUTPUT};
use crate::date;
use crate::exit::Exit;
use crate::outcome::Outcome;
use crate::output::Out;
use crate::place::{At, BY_ID};
use crate::run::run;

const SIGNATURES: &str = "Signatures";

const AFTER_HELP: &str = "\
Examples:
  fallwright petition demo/case.toml --area area.geojson --signed 0527-030-005-00300,0527-030-005-00420 --out results
  fallwright petition demo/case.toml --suggest 0527-010-003-00100 --out results
  fallwright petition demo/case.toml --area area.geojson --signed signed.csv --outlet D-07 --out results
  fallwright petition demo/case.toml --area area.geojson --signed signed.csv --withdraw \"Orla Teasel\" --out results

IDS are ids of parcels (all their owners sign), of roads (their authority signs), of the profile's officers, or
owners' names, with commas between. FILE is a CSV file whose heading names the columns `parcel` or `owner` or both
and, where known, `capacity`, `signed` and `withdrawn` (dates).

An area proposed holds the land without a right of drainage or under standing water of the parcels asked about and of
those that its path crosses, with the roads beside it. It is written to area.geojson, to be corrected and given by
--area.

petition.json holds the verdict with every figure, petition.geojson each land of the area, petition.csv the same as
a table, petition_tests.csv the tests, signatures.csv a working list to take along (not the prescribed form),
petition.xlsx all three, petition.svg and petition.pdf a sheet with the map. It is a draft: the clerk, the council
and the appointed engineer decide.";

/// Does a petition pass: who has signed in an area, against what the law asks
#[derive(Debug, Args)]
#[command(after_help = AFTER_HELP, group = ArgGroup::new("place").args([BY_ID, "at"]))]
#[command(group = ArgGroup::new("area_asked").args(["area", "suggest"]).required(true))]
pub(crate) struct Petition {
    /// Case file (TOML)
    case: PathBuf,

    /// The area requiring drainage: a vector file of polygons
    #[arg(long, value_name = "FILE")]
    area: Option<PathBuf>,

    /// Propose an area from the terrain for these parcels, with commas between
    #[arg(long, value_name = "PARCELS", value_delimiter = ',', value_parser = NonEmptyStringValueParser::new())]
    suggest: Vec<String>,

    /// Who has signed
    #[arg(long, value_name = "FILE|IDS", help_heading = SIGNATURES)]
    signed: Option<String>,

    /// Who signs as well
    #[arg(long, value_name = "FILE|IDS", help_heading = SIGNATURES)]
    add: Option<String>,

    /// Who takes the name back
    #[arg(long, value_name = "FILE|IDS", help_heading = SIGNATURES)]
    withdraw: Option<String>,

    /// Count the signatures as objections, by the profile's tests for these
    #[arg(long, help_heading = SIGNATURES)]
    remonstrance: bool,

    /// Which stage is counted, a text for the outputs
    #[arg(long, value_name = "NAME", default_value = "filing", value_parser = NonEmptyStringValueParser::new())]
    #[arg(help_heading = SIGNATURES)]
    stage: String,

    /// petition.json of an earlier stage, to stand beside this one; may be given several times
    #[arg(long, value_name = "FILE", help_heading = SIGNATURES)]
    earlier: Vec<PathBuf>,

    /// The outlet that the area is to drain to, by its id [default: the one that most of it drains to]
    #[arg(id = BY_ID, long = "outlet", value_name = "ID", value_parser = NonEmptyStringValueParser::new())]
    #[arg(help_heading = "Place")]
    outlet: Option<String>,

    #[command(flatten)]
    at: At,

    #[command(flatten)]
    out: Out,

    #[arg(long, value_name = "SIZE", default_value = "letter", help = "Paper of the sheet", help_heading = OUTPUT)]
    #[arg(value_parser = PossibleValuesParser::new(Paper::ALL.map(Paper::name)))]
    paper: String,

    /// Font (TrueType, OpenType) for characters that the sheet's own font lacks; may be given several times
    #[arg(long, value_name = "FILE", help_heading = OUTPUT)]
    font: Vec<PathBuf>,

    #[command(flatten)]
    common: Common,
}

impl Petition {
    pub(crate) fn run(self) -> Exit {
        run(&self.common, |budget, progress| {
            let asked = commands::PetitionAsked {
                area: self.area.map_or(commands::AreaAsked::Suggested(self.suggest), commands::AreaAsked::File),
                signed: self.signed,
                add: self.add,
                withdraw: self.withdraw,
                raised_by: if self.remonstrance { RaisedBy::Remonstrance } else { RaisedBy::Petition },
                outlet: self.at.optional_place(self.outlet.map(Place::Outlet))?,
                stage: self.stage,
                earlier: self.earlier,
                run_date: date::today(),
                paper: Paper::named(&self.paper).unwrap_or_default(),
                fonts: self.font,
            };
            let output = self.out.output();
            let done = commands::petition(&self.case, &asked, &output, budget, progress)?;
            let commands::PetitionDone { study, petition, written } = &done;
            Ok(Outcome {
                lines: terminal::petition::petition(study, petition, &written.record, output.folder),
                json: json!({ "out": output.folder, "petition": written.record }),
                undecided: 0,
            })
        })
    }
}
