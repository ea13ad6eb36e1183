//! A petition on a terminal.

use std::path::Path;

use fallwright_law::petition::PetitionLaw;
use fallwright_study::{Petition, Study};

use super::columns::{hanging, indented_table, wrapped};
use crate::caution::CAUTION;
use crate::records::petition::{BasinRecord, LandHectares, PetitionRecord, PetitionTestRecord};
use crate::words::{firmness_sentences, hectares, petition_cautions, verdict_sentence};

pub fn petition(study: &Study, petition: &Petition, record: &PetitionRecord, out: &Path) -> Vec<String> {
    let mut lines = wrapped(&verdict_sentence(study, petition), "");
    lines.push(format!(
        "  area {:.2} ha: {:.2} ha of parcels, {:.2} ha of roads, {:.2} ha of neither",
        record.area_ha, record.owned_ha, record.road_ha, record.unowned_ha
    ));
    if let Some(roll) = &record.roll {
        let dated = record.roll_dated.as_ref().map_or("of no stated date".to_owned(), |date| format!("of {date}"));
        lines.extend(wrapped(&format!("counted on the parcel layer {dated}, taken for {roll}"), "  "));
    }
    if !record.tests.is_empty() {
        lines.extend(test_table(&record.tests));
    }
    for sentence in firmness_sentences(petition) {
        lines.extend(wrapped(&sentence, "  "));
    }
    if let Some(basin) = &record.basin {
        lines.extend(basin_lines(basin));
    }
    for note in &record.notes {
        lines.extend(hanging("  note: ", note));
    }
    if let PetitionLaw::Known(rules) = &study.inputs.profile.petition {
        for sentence in petition_cautions(rules) {
            lines.extend(wrapped(&sentence, "  "));
        }
    }
    lines.push(format!(
        "Written to {}: petition.json, petition.geojson, petition.csv, petition_tests.csv, signatures.csv, petition.xlsx",
        out.display()
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

fn basin_lines(basin: &BasinRecord) -> Vec<String> {
    let named = if basin.named { "" } else { ", to which most of it drains today" };
    let mut lines = wrapped(
        &format!(
            "{} of {} with elevation drain to {}{named}",
            hectares(basin.drains_to_outlet_ha),
            hectares(basin.area_ha),
            basin.outlet
        ),
        "  ",
    );
    let sum = |lands: &[LandHectares]| lands.iter().fold(0.0, |sum, land| sum + land.hectares);
    lines.push(format!(
        "  {} inside drain elsewhere; {} outside drain through the area",
        hectares(sum(&basin.elsewhere)),
        hectares(sum(&basin.from_outside))
    ));
    match &basin.first_too_small {
        Some(link) if basin.maintenance_may_do => lines.extend(wrapped(
            &format!(
                "the first link below that is too small is {link}; its design was large enough, so maintenance may do"
            ),
            "  ",
        )),
        Some(link) => lines.extend(wrapped(&format!("the first link below that is too small is {link}"), "  ")),
        None => {}
    }
    lines
}
