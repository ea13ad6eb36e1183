//! Sheets about one parcel: its water's path, who drains across it, plan above profile.

use std::collections::BTreeSet;

use fallwright_network::{Party, Path, Trace};
use fallwright_study::Study;
use fallwright_units::{ParcelIx, ShareIx};
use geo::{Coord, Geometry, LineString};

use super::incoming::Incoming;
use super::maps::{Maps, add_main_path, extent_of, path_line};
use super::profiles::along_path;
use crate::case_records::CaseRecords;
use crate::drawing::{Block, MapPath, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table};
use crate::layers::lands::party_of;
use crate::overview::Furniture;
use crate::profile::{Profile, station};
use crate::words::{
    constraint_sentences, counted, destination_of, destination_words, list, onward_words, party_name, party_words,
    piped_sentences, works,
};

/// A plan above a profile shows at most this much of a path (our choice).
const MOST_ON_A_PAGE_M: f64 = 1500.0;
/// Stations are written on the plan this far apart, metres (our choice).
const STATIONS_M: f64 = 100.0;
/// Heights are drawn about this many times as large as lengths (common practice, no source).
const EXAGGERATION: f64 = 10.0;
const MOST_ITEMS: usize = 9;

pub(crate) struct ParcelSheets<'a> {
    pub(crate) maps: &'a Maps<'a>,
    pub(crate) incoming: &'a Incoming,
    pub(crate) furniture: &'a Furniture,
    pub(crate) paper: Paper,
}

/// The parcel's main path, as the study has it.
pub(crate) fn main_trace(results: &CaseRecords, parcel: ParcelIx) -> Option<Trace> {
    results.study.shares[parcel].first().filter(|share| !share.is_remainder)?;
    Some(results.study.trace(parcel, ShareIx(0)))
}

/// Where a share's water goes, as a title says it.
pub(crate) fn finding(results: &CaseRecords, parcel: ParcelIx) -> String {
    let properties = &results.parcels[parcel].properties;
    let Some(trace) = main_trace(results, parcel) else {
        return format!("Parcel {}: no water path was found", properties.parcel_id);
    };
    let onward = onward_words(results.study, destination_of(&trace));
    let crossed: BTreeSet<Party> =
        trace.crossings.iter().map(|crossing| crossing.to).filter(|&party| party != Party::Parcel(parcel)).collect();
    format!("{} crosses {} and {onward}", water_in_title(results, parcel), lands_in_title(results.study, &crossed))
}

/// `The water of parcel 012`, or `The water of the largest leaving point of parcel 012 (7.80 of 20.20 ha)` where there are several.
fn water_in_title(results: &CaseRecords, parcel: ParcelIx) -> String {
    let properties = &results.parcels[parcel].properties;
    let main_ha = results.study.hectares(results.study.shares[parcel][ShareIx(0)].cells);
    let part = format!("({main_ha:.2} of {:.2} ha)", properties.own_ha);
    match results.study.shares[parcel].len() {
        1 => format!("The water of parcel {}", properties.parcel_id),
        _ => format!("The water of the largest leaving point of parcel {} {part}", properties.parcel_id),
    }
}

/// `one other parcel and Mill Road`: parcels and several roads are counted, one road is named.
fn lands_in_title(study: &Study, crossed: &BTreeSet<Party>) -> String {
    let parcels = match crossed.iter().filter(|party| matches!(party, Party::Parcel(_))).count() {
        0 => None,
        1 => Some("one other parcel".to_owned()),
        many => Some(format!("{many} other parcels")),
    };
    let roads: Vec<Party> = crossed.iter().copied().filter(|party| matches!(party, Party::Road(_))).collect();
    let roads = match &roads[..] {
        [] => None,
        [road] => Some(party_name(study, *road)),
        many => Some(counted(many.len(), "road", "roads")),
    };
    let lands: Vec<String> = parcels.into_iter().chain(roads).collect();
    if lands.is_empty() { "nobody else's land".to_owned() } else { list(&lands) }
}

impl ParcelSheets<'_> {
    fn sheet(&self, title: String, lines: Vec<String>, blocks: Vec<Block>) -> Sheet {
        Sheet {
            title,
            lines,
            paper: self.paper,
            landscape: false,
            blocks,
            furniture: self.furniture.clone(),
            page: (1, 1),
        }
    }

    /// Owner, legal description, area.
    fn about(&self, parcel: ParcelIx) -> String {
        let properties = &self.maps.results.parcels[parcel].properties;
        let words = [properties.owner.as_deref(), properties.legal.as_deref()];
        let words: Vec<&str> = words.into_iter().flatten().collect();
        format!("{} · {:.2} ha", words.join(" · "), properties.area_ha)
    }

    fn shape(&self, parcel: ParcelIx) -> Option<&Geometry<f64>> {
        self.maps.results.parcels[parcel].geometry.as_ref()
    }

    /// The path of the parcel's main share, each land crossed in order, a small profile.
    pub(crate) fn water_path(&self, parcel: ParcelIx) -> Sheet {
        let title = finding(self.maps.results, parcel);
        let properties = &self.maps.results.parcels[parcel].properties;
        let CaseRecords { study, standings, .. } = self.maps.results;
        let piped = study.piped_ways(parcel, &standings.findings[parcel]);
        let mut blocks = vec![Block::Text(format!("What to do next: {}", properties.next_step))];
        blocks.extend(piped.iter().map(|way| Block::Text(piped_sentences(study, way))));
        if !study.inputs.constraints.is_empty() {
            let sentences = constraint_sentences(study, &properties.constraints);
            blocks.push(Block::Text(format!("What works would meet: {}", sentences.join(" "))));
        }
        if let Some(trace) = main_trace(self.maps.results, parcel) {
            let path = self.maps.results.study.path(parcel, ShareIx(0));
            let line = Geometry::from(path_line(&path));
            let pipes: Vec<Geometry<f64>> = piped.iter().map(|way| path_line(&way.path).into()).collect();
            if let Some(about) = extent_of(self.shape(parcel).into_iter().chain([&line]).chain(&pipes)) {
                let mut map = self.maps.about(about, |other| outline(other == parcel));
                self.add_other_paths(&mut map, parcel);
                let paths = piped.iter().map(|way| MapPath { line: path_line(&way.path), is_main: false });
                map.paths.extend(paths);
                add_main_path(&mut map, &path);
                blocks.push(Block::Items(self.course(parcel, &trace)));
                blocks.push(Block::Map(map));
            }
            if trace.length_m() > 0.0 {
                let profile = along_path(self.maps.results.study, &path, title.clone());
                blocks.push(Block::Profile { profile, stretch: None, exaggeration: None, height_mm: 42.0 });
            }
        }
        self.sheet(title, vec![self.about(parcel)], blocks)
    }

    fn add_other_paths(&self, map: &mut SheetMap, parcel: ParcelIx) {
        let own = self.maps.results.study.shares[parcel].iter_enumerated().skip(1);
        for (share, _) in own.filter(|(_, share)| !share.is_remainder) {
            map.paths.push(MapPath { line: path_line(&self.maps.results.study.path(parcel, share)), is_main: false });
        }
    }

    /// Each land in order, with metres on it and what carries the water.
    fn course(&self, parcel: ParcelIx, trace: &Trace) -> Vec<(String, String)> {
        let study = self.maps.results.study;
        let share = &study.shares[parcel][ShareIx(0)];
        let own = study.hectares(share.cells);
        let mut items = vec![(
            "□".to_owned(),
            format!("leaves parcel {} with {own:.2} ha", party_name(study, Party::Parcel(parcel))),
        )];
        for (number, crossing) in (1..).zip(&trace.crossings).take(MOST_ITEMS) {
            let works = works(study, crossing.carrier, crossing.to);
            items.push((
                number.to_string(),
                format!(
                    "{}: from {:.0} m on, {:.0} m {}; maintenance: {}",
                    party_words(study, crossing.to),
                    crossing.distance_m,
                    crossing.metres_on_land,
                    works.label,
                    works.maintained_by
                ),
            ));
        }
        if trace.crossings.len() > MOST_ITEMS {
            let left = trace.crossings.len() - MOST_ITEMS;
            items.push(("…".to_owned(), format!("and {left} more lands, which the overview page lists")));
        }
        let to = destination_words(study, share.destination);
        items.push((
            "◇".to_owned(),
            format!("{to}, after {:.0} m and {:.2} m of fall", trace.length_m(), trace.fall_m()),
        ));
        items
    }

    /// Incoming paths and hectares.
    pub(crate) fn arriving(&self, parcel: ParcelIx) -> Sheet {
        let study = self.maps.results.study;
        let properties = &self.maps.results.parcels[parcel].properties;
        let mut givers: Vec<(Party, f64)> =
            properties.receives_from.iter().map(|from| (party_of(study, &from.land), from.hectares)).collect();
        givers.sort_by(|a, b| b.1.total_cmp(&a.1));
        let parcel_of = |&(party, _): &(Party, f64)| if let Party::Parcel(giver) = party { Some(giver) } else { None };
        let positions: BTreeSet<ParcelIx> = givers.iter().filter_map(parcel_of).collect();
        let title = format!(
            "{:.1} ha of other land drain across parcel {}, from {} parcels",
            properties.run_on_ha,
            properties.parcel_id,
            positions.len()
        );
        let incoming = self.incoming.lines(study, parcel);
        let lines: Vec<Geometry<f64>> = incoming.iter().map(|(line, _)| line.clone().into()).collect();
        let mut blocks = Vec::new();
        if let Some(about) = extent_of(self.shape(parcel).into_iter().chain(&lines)) {
            let mut map = self.maps.about(about, |other| match other {
                other if other == parcel => Outline::Thick,
                other if positions.contains(&other) => Outline::Broken,
                _ => Outline::Plain,
            });
            map.paths = incoming.into_iter().map(|(line, is_main)| MapPath { line, is_main }).collect();
            blocks.push(Block::Map(map));
        }
        blocks.push(Block::Table(self.giver_table(&givers)));
        let note = "Parcels with a broken outline give water; the lines of dots are their paths as far as they cross this land.";
        self.sheet(title, vec![self.about(parcel), note.to_owned()], blocks)
    }

    fn giver_table(&self, givers: &[(Party, f64)]) -> Table {
        let study = self.maps.results.study;
        let row = |&(party, area): &(Party, f64)| {
            let holder = match party {
                Party::Road(road) => study.inputs.roads[road].authority.as_deref(),
                party => study.party_owner(party),
            };
            vec![party_name(study, party), holder.unwrap_or_default().to_owned(), format!("{area:.2}")]
        };
        Table {
            heads: ["From", "Owner or authority", "Hectares"].map(str::to_owned).to_vec(),
            widths: vec![3.0, 5.0, 1.5],
            figures: vec![false, false, true],
            rows: givers.iter().map(row).collect(),
            most_rows: 14,
        }
    }

    /// Plan above profile with the same stations; a long path takes several pages, joined by match lines.
    pub(crate) fn plan_and_profile(&self, parcel: ParcelIx) -> Vec<Sheet> {
        let Some(trace) = main_trace(self.maps.results, parcel).filter(|trace| trace.length_m() > 0.0) else {
            return Vec::new();
        };
        let path = self.maps.results.study.path(parcel, ShareIx(0));
        let title = finding(self.maps.results, parcel);
        let profile = along_path(self.maps.results.study, &path, title.clone());
        let pages = (trace.length_m() / MOST_ON_A_PAGE_M).ceil() as usize;
        let each = trace.length_m() / pages as f64;
        let page = |page: usize| {
            let (from, to) = (page as f64 * each, (page + 1) as f64 * each);
            let match_lines = match_lines(page, pages, from, to);
            let blocks = self.plan_blocks(parcel, &path, &profile, (from, to));
            let lines = [vec![self.about(parcel)], match_lines].concat();
            Sheet { paper: self.paper.large(), landscape: true, ..self.sheet(title.clone(), lines, blocks) }
        };
        (0..pages).map(page).collect()
    }

    fn plan_blocks(&self, parcel: ParcelIx, path: &Path, profile: &Profile, (from, to): (f64, f64)) -> Vec<Block> {
        let within = path.stations.iter().filter(|s| s.distance_m >= from - 1e-6 && s.distance_m <= to + 1e-6);
        let line: LineString<f64> = within.map(|station| (station.x, station.y)).collect();
        let mut blocks = Vec::new();
        if let Some(about) = extent_of([&Geometry::from(line.clone())]) {
            let mut map = self.maps.about(about, |other| outline(other == parcel));
            add_main_path(&mut map, path);
            map.signs.extend(stations_on_plan(path, from, to));
            blocks.push(Block::Map(map));
        }
        let stretch = Some((from, to));
        blocks.push(Block::Profile {
            profile: profile.clone(),
            stretch,
            exaggeration: Some(EXAGGERATION),
            height_mm: 78.0,
        });
        blocks
    }
}

fn outline(is_chosen: bool) -> Outline {
    if is_chosen { Outline::Thick } else { Outline::Plain }
}

fn match_lines(page: usize, pages: usize, from: f64, to: f64) -> Vec<String> {
    let mut lines = Vec::new();
    if page > 0 {
        lines.push(format!("Match line at station {}: see page {page}.", station(from)));
    }
    if page + 1 < pages {
        lines.push(format!("Match line at station {}: see page {}.", station(to), page + 2));
    }
    lines
}

fn stations_on_plan(path: &Path, from: f64, to: f64) -> Vec<MapSign> {
    let mut signs = Vec::new();
    let mut next = (from / STATIONS_M).ceil() * STATIONS_M;
    for pair in path.stations.windows(2) {
        while next <= to && next <= pair[1].distance_m && next >= pair[0].distance_m {
            let along = (next - pair[0].distance_m) / (pair[1].distance_m - pair[0].distance_m).max(1e-9);
            let at = Coord {
                x: pair[0].x + along * (pair[1].x - pair[0].x),
                y: pair[0].y + along * (pair[1].y - pair[0].y),
            };
            signs.push(MapSign { at, kind: SignKind::Station(station(next)) });
            next += STATIONS_M;
        }
    }
    signs
}
