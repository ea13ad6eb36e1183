//! Sheets about the whole case: the situation, and the places in doubt.

use fallwright_units::ParcelIx;
use geo::{Coord, Geometry};

use super::maps::{Maps, extent_of};
use crate::drawing::{Block, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table};
use crate::overview::{DoubtOnPage, Furniture};
use crate::plan::Plan;
use crate::words::counted;

/// Places and rows on the doubt sheet; the page lists all.
const MOST_DOUBTS: usize = 14;
const MOST_NOTES: usize = 6;

fn whole_map(maps: &Maps) -> Option<SheetMap> {
    let shapes: Vec<&Geometry<f64>> =
        maps.results.parcels.iter().filter_map(|record| record.geometry.as_ref()).collect();
    extent_of(shapes).map(|about| maps.about(about, |_| Outline::Plain))
}

pub(crate) fn situation(maps: &Maps, furniture: &Furniture, paper: Paper) -> Sheet {
    let results = maps.results;
    let count = |standing: &str| results.parcels.iter().filter(|record| record.properties.standing == standing).count();
    let total = results.parcels.len();
    let title = format!(
        "{} of {} have a right of drainage indicated by the data given",
        count("right"),
        counted(total, "parcel", "parcels")
    );
    let lines = vec![format!(
        "{} more for a part of their land; {} must acquire an outlet; {} are not decided by the data.",
        count("right_in_part"),
        count("acquire"),
        count("undecided")
    )];
    let blocks = whole_map(maps).into_iter().map(Block::Map).collect();
    Sheet { title, lines, paper, landscape: true, blocks, furniture: furniture.clone(), page: (1, 1) }
}

pub(crate) fn doubt_sheet(maps: &Maps, doubts: &[DoubtOnPage], furniture: &Furniture, paper: Paper) -> Sheet {
    let results = maps.results;
    let culverts = doubts.iter().filter(|doubt| doubt.is_suspected_culvert).count();
    let title = format!(
        "{} to check in the field, {} of them suspected culverts",
        counted(doubts.len(), "place", "places"),
        culverts
    );
    let frame = results.study.setting.frame();
    let plan = Plan { west: frame.west(), south: frame.south() };
    let mut blocks = Vec::new();
    if let Some(mut map) = whole_map(maps) {
        // The first in rank is drawn last and so on top.
        for doubt in doubts.iter().rev() {
            let [east, north] = doubt.at.map(|decimetres| decimetres as f64 / 10.0);
            let at = Coord { x: plan.west + east, y: plan.south + north };
            map.signs.push(MapSign { at, kind: SignKind::Number(doubt.id.clone()) });
        }
        blocks.push(Block::Map(map));
    }
    let names = |parcels: &[i64]| -> String {
        let positions = parcels.iter().filter_map(|&parcel| usize::try_from(parcel).ok()).map(ParcelIx);
        let ids = positions.filter_map(|parcel| results.parcels.get(parcel));
        ids.map(|record| record.properties.parcel_id.as_str()).collect::<Vec<_>>().join(", ")
    };
    let row = |doubt: &DoubtOnPage| {
        let depends = doubt.depends.as_ref().map_or_else(|| "not worked out".to_owned(), |depends| names(depends));
        vec![doubt.id.clone(), doubt.what.clone(), depends]
    };
    blocks.push(Block::Table(Table {
        heads: ["Place", "What the data show", "Findings that change without it"].map(str::to_owned).to_vec(),
        widths: vec![1.0, 7.0, 4.0],
        figures: vec![false; 3],
        rows: doubts.iter().map(row).collect(),
        most_rows: MOST_DOUBTS,
    }));
    let notes: Vec<String> = results
        .study
        .notes
        .iter()
        .take(MOST_NOTES)
        .map(|note| format!("{}: {}; {}.", note.about, note.found, note.done))
        .collect();
    if !notes.is_empty() {
        let left = results.study.notes.len() - notes.len();
        let more = if left > 0 { format!("\nand {left} more, which the overview page lists") } else { String::new() };
        blocks.push(Block::Small(format!("Put right in the data, or to be known:\n{}{more}", notes.join("\n"))));
    }
    Sheet { title, lines: Vec::new(), paper, landscape: false, blocks, furniture: furniture.clone(), page: (1, 1) }
}
