//! A letter to each neighbour and road authority whose land a parcel's water crosses: plain words, one map, one sentence on limits.

use std::collections::BTreeMap;

use fallwright_network::{Crossing, Destination, Party, Path};
use fallwright_study::Study;
use fallwright_units::{ParcelIx, ShareIx};
use geo::Geometry;

use super::maps::{Maps, add_main_path, extent_of, path_line};
use super::parcel_sheets::{ParcelSheets, main_trace};
use crate::case_records::CaseRecords;
use crate::drawing::{Block, Outline, Sheet, SheetMap};
use crate::words::{authority_words, destination_of, onward_words, owner_words, party_name, road_name};

/// Water that is written about.
struct Told {
    path: Path,
    hectares: f64,
    destination: Destination,
    /// The pipe that takes it; `None` for the main share.
    pipe: Option<String>,
}

/// One page for each owner and road authority on the path of each pipe, then on the main path, in the order in which the water
/// comes to their land.
pub(crate) fn letters(sheets: &ParcelSheets, parcel: ParcelIx) -> Vec<Sheet> {
    told(sheets.maps.results, parcel).iter().flat_map(|told| letters_about(sheets, parcel, told)).collect()
}

fn told(results: &CaseRecords, parcel: ParcelIx) -> Vec<Told> {
    let study = results.study;
    let piped = study.piped_ways(parcel, &results.standings.findings[parcel]).into_iter();
    let by_pipe = piped.map(|way| Told {
        destination: destination_of(&way.path.trace),
        hectares: way.hectares().hectares(),
        pipe: Some(study.setting.structures[way.pipe].id.to_string()),
        path: way.path,
    });
    let main = main_trace(results, parcel).map(|_| {
        let share = &study.shares[parcel][ShareIx(0)];
        let (path, hectares) = (study.path(parcel, ShareIx(0)), study.hectares(share.cells));
        Told { path, hectares, destination: share.destination, pipe: None }
    });
    by_pipe.chain(main).collect()
}

fn letters_about(sheets: &ParcelSheets, parcel: ParcelIx, told: &Told) -> Vec<Sheet> {
    let results = sheets.maps.results;
    let mut order: Vec<String> = Vec::new();
    let mut lands: BTreeMap<String, Vec<&Crossing>> = BTreeMap::new();
    for crossing in &told.path.trace.crossings {
        if crossing.to == Party::Parcel(parcel) {
            continue;
        }
        let Some(owner) = recipient(results.study, crossing.to) else { continue };
        if !order.contains(&owner) {
            order.push(owner.clone());
        }
        lands.entry(owner).or_default().push(crossing);
    }
    order.iter().map(|owner| letter(sheets, parcel, told, (owner, &lands[owner]))).collect()
}

/// The owner of a parcel, the authority of a road; nobody for other land.
fn recipient(study: &Study, land: Party) -> Option<String> {
    match land {
        Party::Parcel(parcel) => Some(owner_words(study, parcel)),
        Party::Road(road) => {
            let road = &study.inputs.roads[road];
            Some(road.authority.clone().unwrap_or_else(|| authority_words(road)))
        }
        Party::Unowned => None,
    }
}

fn letter(sheets: &ParcelSheets, parcel: ParcelIx, told: &Told, (owner, crossings): (&str, &[&Crossing])) -> Sheet {
    let results = sheets.maps.results;
    let own = &results.parcels[parcel].properties;
    let opening = match &told.pipe {
        Some(pipe) => format!(
            "A tile main, pipe {pipe}, takes water from my land to yours. By the map, about {:.1} ha of parcel {} drain by it.",
            told.hectares, own.parcel_id
        ),
        None => format!(
            "The ground carries water from my land over yours. By the elevation data, about {:.1} ha of parcel {} drain there.",
            told.hectares, own.parcel_id
        ),
    };
    let mut blocks = vec![
        Block::Text(format!("To: {owner}")),
        Block::Text(format!(
            "From: {}, parcel {}. Date: {}",
            owner_words(results.study, parcel),
            own.parcel_id,
            sheets.furniture.run_date
        )),
        Block::Text(format!(
            "{opening} {} From there the water goes on until it {}.",
            across(results, crossings),
            onward_words(results.study, told.destination)
        )),
        Block::Text(format!("{} {LIMITS}", request(told))),
    ];
    if let Some(map) = map(sheets.maps, parcel, told, crossings) {
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

const LIMITS: &str = "Nothing is decided by this letter and you agree to nothing by reading it. If the map is wrong at a place \
     that you know, please tell me.";

/// What the writer would like to talk about: a main that lies there, or a drain that may come.
fn request(told: &Told) -> &'static str {
    match told.pipe {
        Some(_) => {
            "I would like to talk with you about it: whether there is a written agreement for the main, where the water \
             should go and who looks after it."
        }
        None => {
            "I would like to talk with you about it before any drain is planned: where the water should go, what would \
             be built and who would look after it."
        }
    }
}

/// Where and how far the water runs on the neighbour's land.
fn across(results: &CaseRecords, crossings: &[&Crossing]) -> String {
    let one = |crossing: &&Crossing| {
        let land = match crossing.to {
            Party::Road(road) => road_name(&results.study.inputs.roads[road]),
            land => format!("parcel {}", party_name(results.study, land)),
        };
        let works = crate::words::works(results.study, crossing.carrier, crossing.to);
        format!("It enters your {land} and runs {:.0} m across it ({}).", crossing.metres_on_land, works.label)
    };
    crossings.iter().map(one).collect::<Vec<_>>().join(" ")
}

fn map(maps: &Maps, parcel: ParcelIx, told: &Told, crossings: &[&Crossing]) -> Option<SheetMap> {
    let results = maps.results;
    let line = Geometry::from(path_line(&told.path));
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
    add_main_path(&mut map, &told.path);
    Some(map)
}
