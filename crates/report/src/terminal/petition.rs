//! A petition on a terminal.

use std::path::Path;

use fallwright_study::{Petition, Study};

use super::columns::{hanging, indented_table, wrapped};
use crate::caution::CAUTION;
use crate::records::petition::{PetitionRecord, PetitionTestRecord};
use crate::words::{PetitionWords, hectares};

pub fn petition(study: &Study, petition: &Petition, record: &PetitionRecord, out: &Path) -> Vec<String> {
    let words = PetitionWords::of(study, petition, record);
    let mut lines = wrapped(&words.verdict, "");
    lines.push(format!(
        "  area {}: {} of parcels, {} of roads, {} of neither",
        hectares(record.area_ha),
        hectares(record.owned_ha),
        hectares(record.road_ha),
        hectares(record.unowned_ha)
    ));
    if let Some(roll) = &record.roll {
        let dated = record.roll_dated.as_ref().map_or("of no stated date".to_owned(), |date| format!("of {date}"));
        lines.extend(wrapped(&format!("counted on the parcel layer {dated}, taken for {roll}"), "  "));
    }
    if !record.tests.is_empty() {
        lines.extend(test_table(&record.tests));
    }
    for sentence in &words.suggested {
        lines.extend(wrapped(sentence, "  "));
    }
    for sentence in words.firmness.iter().chain(&words.basin).chain(&words.constraints) {
        lines.extend(wrapped(sentence, "  "));
    }
    for note in &record.notes {
        lines.extend(hanging("  note: ", note));
    }
    for sentence in &words.cautions {
        lines.extend(wrapped(sentence, "  "));
    }
    let area = if record.suggested.is_some() { "area.geojson, " } else { "" };
    lines.extend(wrapped(
        &format!(
            "Written to {}: {area}petition.json, petition.geojson, petition.csv, petition_tests.csv, signatures.csv, petition.xlsx, petition.svg, petition.pdf",
            out.display()
        ),
        "",
    ));
    lines.push(CAUTION.to_owned());
    lines
}

fn test_table(tests: &[PetitionTestRecord]) -> Vec<String> {
    let heading = ["test", "roads", "have", "of", "needed", "met"].map(str::to_owned).to_vec();
    let rows = tests.iter().map(|test| {
        let amount = |value: f64| {
            if test.measure == "heads" { format!("{value}") } else { format!("{value:.4} ha") }
        };
        let roads = if test.roads == "counted" { "counted" } else { "not counted" };
        let met = if test.met { "yes" } else { "no" };
        vec![
            test.label.clone(),
            roads.to_owned(),
            amount(test.have),
            amount(test.of),
            amount(test.needed),
            met.to_owned(),
        ]
    });
    indented_table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}
