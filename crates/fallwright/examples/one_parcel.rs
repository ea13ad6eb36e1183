//! Asks one case several questions and writes its layers:
//! `cargo run --example one_parcel -- demo/case/case.toml 0527-030-005-00420 results`

use std::path::Path;

use fallwright::report::{OutletsExtras, Output, terminal, write_outlets};
use fallwright::{Budget, Error, Place};

pub(crate) fn ask(case_file: &Path, parcel_id: &str, folder: &Path) -> Result<Vec<String>, Error> {
    let silent = |_: &str| ();
    let study = fallwright::open(case_file, &Budget::of(2 << 30), &silent)?;

    // One parcel's finding, and its water both ways.
    let finding = study.finding(parcel_id)?;
    let parcel = Place::Parcel(parcel_id.to_owned());
    let mut lines = vec![format!("{parcel_id}: {} with {:?} confidence", finding.standing.code(), finding.confidence)];
    lines.extend(terminal::trace::leaving(&study, &study.leaving(&parcel)?));
    lines.extend(terminal::trace::arriving(&study, &study.arriving(&parcel)?));

    // The watershed of the first outlet that its water meets.
    if let Some(outlet) = finding.outlet {
        let watershed = study.watershed(&Place::Outlet(outlet.feature.clone()), 0.0)?;
        lines.push(format!("{} lands drain to {}", watershed.lands.len(), outlet.feature));
    }

    // The layers of the whole case.
    let output = Output { folder, overwrite: true }.open(&study.inputs.case.files())?;
    write_outlets(output, &study, &study.standings(&silent)?, OutletsExtras::default(), &silent)?;
    Ok(lines)
}

#[expect(clippy::print_stdout, reason = "an example shows its answer")]
fn main() -> Result<(), Error> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [case_file, parcel_id, folder] = &given[..] else { panic!("give a case file, a parcel's id and a folder") };
    ask(Path::new(case_file), parcel_id, Path::new(folder)).map(|lines| println!("{}", lines.join("\n")))
}
