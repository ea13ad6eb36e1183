//! A letter to each neighbour whose land a parcel's water crosses: plain words, one map, one sentence on limits.

use std::collections::BTreeMap;

use crate::{Block, Outline, Sheet, SheetMap};
use fallwright_network::{Crossing, Party};
use fallwright_units::{ParcelIx, ShareIx};
use geo::Geometry;

use super::maps::{Maps, add_main_path, extent_of, path_line};
use super::parcel_sheets::{ParcelSheets, main_trace, named};
use crate::CaseRecords;
use crate::words::destination_words;

/// One page for each owner on the main path, in the order in which the water comes to their land.
pub(crate) fn letters(sheets: &ParcelSheets, parcel: ParcelIx) -> Vec<Sheet> {
    let results = sheets.maps.results;
    let Some(trace) = main_trace(results, parcel) else { return Vec::new() };
    let mut order: Vec<String> = Vec::new();
    let mut lands: BTreeMap<String, Vec<&Crossing>> = BTreeMap::new();
    for crossing in &trace.crossings {
        let Party::Parcel(other) = crossing.to else { continue };
        if other == parcel {
            continue;
        }
        let properties = &results.parcels[other].properties;
        let owner = properties.owner.clone().unwrap_or_else(|| format!("the owner of {}", properties.parcel_id));
        if !order.contains(&owner) {
            order.push(owner.clone());
        }
        lands.entry(owner).or_default().push(crossing);
    }
    order.iter().map(|owner| letter(sheets, parcel, (owner, &lands[owner]))).collect()
}

fn letter(sheets: &ParcelSheets, parcel: ParcelIx, (owner, crossings): (&str, &[&Crossing])) -> Sheet {
    let results = sheets.maps.results;
    let own = &results.parcels[parcel].properties;
    let share = &results.study.shares[parcel][ShareIx(0)];
    let sender = named(own);
    let mut blocks = vec![
        Block::Text(format!("To: {owner}")),
        Block::Text(format!("From: {sender}. Date: {}", sheets.furniture.run_date)),
        Block::Text("Dear neighbour,".to_owned()),
        Block::Text(format!(
            "The ground carries water from my land over yours. By the elevation data, about {:.1} ha of parcel {} drain there. {} From there the water goes on until it {}.",
            results.study.hectares(share.cells),
            own.parcel_id,
            across(results, crossings),
            end_words(results, parcel)
        )),
        Block::Text(
            "I would like to talk with you about it before any drain is planned: where the water should go, what would \
             be built and who would look after it. Nothing is decided by this letter and you agree to nothing by reading \
             it. If the map is wrong at a place that you know, please tell me."
                .to_owned(),
        ),
    ];
    if let Some(map) = map(sheets.maps, parcel, crossings) {
        blocks.push(Block::Map(map));
    }
    blocks.push(Block::Text("Name, telephone: ______________________________________".to_owned()));
    Sheet {
        title: format!("Water from parcel {} crosses your land", own.parcel_id),
        lines: Vec::new(),
        paper: sheets.paper,
        landscape: false,
        blocks,
        furniture: sheets.furniture.clone(),
        page: (1, 1),
    }
}

/// Where and how far the water runs on the neighbour's land.
fn across(results: &CaseRecords, crossings: &[&Crossing]) -> String {
    let one = |crossing: &&Crossing| {
        let id = results.study.party_name(crossing.to);
        let works = crate::words::works(results.study, crossing.carrier, crossing.to);
        format!("It enters your parcel {id} and runs {:.0} m across it ({}).", crossing.metres_on_land, works.label)
    };
    crossings.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn end_words(results: &CaseRecords, parcel: ParcelIx) -> String {
    let share = &results.study.shares[parcel][ShareIx(0)];
    let to = destination_words(results.study, share.destination);
    if results.parcels[parcel].properties.outlet_id.is_some() { format!("reaches {to}") } else { to }
}

fn map(maps: &Maps, parcel: ParcelIx, crossings: &[&Crossing]) -> Option<SheetMap> {
    let results = maps.results;
    main_trace(results, parcel)?;
    let path = results.study.path(parcel, ShareIx(0));
    let line = Geometry::from(path_line(&path));
    let mine = results.parcels[parcel].geometry.as_ref();
    let is_theirs = |other: ParcelIx| crossings.iter().any(|crossing| crossing.to == Party::Parcel(other));
    let theirs = results.parcels.iter_enumerated().filter(|&(other, _)| is_theirs(other));
    let shapes = theirs.filter_map(|(_, record)| record.geometry.as_ref());
    let about = extent_of(mine.into_iter().chain([&line]).chain(shapes))?;
    let mut map = maps.about(about, |other| match other {
        other if other == parcel => Outline::Thick,
        other if is_theirs(other) => Outline::Broken,
        _ => Outline::Plain,
    });
    add_main_path(&mut map, &path);
    Some(map)
}
