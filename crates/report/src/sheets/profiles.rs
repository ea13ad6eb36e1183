//! Profiles along water paths and drains.

use std::collections::BTreeSet;

use fallwright_case::{LevelKind, LevelPlace};
use fallwright_network::{Carrier, Feature, Path, Setting};
use fallwright_study::Study;
use fallwright_units::{Cell, WaterwayIx};

use crate::layers::lands::land_item;
use crate::profile::{Grade, MarkKind, Profile, ProfileMark, ProfilePoint};
use crate::words::{party_name, works};

/// Of a share's path, from its leaving point to its outlet; station 0 is the leaving point.
pub(crate) fn along_path(study: &Study, Path { stations, trace }: &Path, name: String) -> Profile {
    let points: Vec<ProfilePoint> = stations
        .iter()
        .map(|station| point(study, station.cell, (station.x, station.y), station.distance_m, station.carrier))
        .collect();
    let mut marks: Vec<ProfileMark> = trace
        .crossings
        .iter()
        .map(|crossing| ProfileMark {
            station_m: crossing.distance_m,
            kind: MarkKind::LotLine,
            label: party_name(study, crossing.to),
        })
        .collect();
    let stations: Vec<(f64, Carrier)> = stations.iter().map(|s| (s.distance_m, s.carrier)).collect();
    let (structures, grades) = structures(study, &stations);
    marks.extend(structures);
    marks.sort_by(|a, b| a.station_m.total_cmp(&b.station_m));
    Profile { name, start: "where the water leaves the land".to_owned(), points, marks, grades }
}

fn point(study: &Study, cell: Cell, (east, north): (f64, f64), station_m: f64, carrier: Carrier) -> ProfilePoint {
    let land = study.setting.parties.of(cell);
    let works = works(study, carrier, land);
    ProfilePoint {
        station_m,
        east,
        north,
        ground_m: study.surveyed_m(cell),
        land: land_item(study, land),
        carried_by: works.carried_by,
        carrier_id: works.carrier_id,
    }
}

/// Where structures begin, and the grades of those whose inverts are known.
fn structures(study: &Study, stations: &[(f64, Carrier)]) -> (Vec<ProfileMark>, Vec<Grade>) {
    let (mut marks, mut grades) = (Vec::new(), Vec::new());
    let mut first = 0;
    for stretch in stations.chunk_by(|a, b| a.1 == b.1) {
        let after = (first + stretch.len()).min(stations.len() - 1);
        let (from_m, to_m) = (stretch[0].0, stations[after].0);
        first += stretch.len();
        let Carrier::Mapped(Feature::Structure(position)) = stretch[0].1 else { continue };
        let id = &study.setting.structures[position].id;
        marks.push(ProfileMark { station_m: from_m, kind: MarkKind::Structure, label: id.to_string() });
        if let Some((a, b)) = study.mapped(position).1.inverts_m {
            let (from_level_m, to_level_m) = (a.max(b), a.min(b));
            let label = format!("{id}: inverts {from_level_m:.2} and {to_level_m:.2} m");
            grades.push(Grade { from_m, to_m, from_level_m, to_level_m, label });
        }
    }
    (marks, grades)
}

/// Of a mapped waterway, from its upper end down; station 0 is that end. Of several heads, the one with the longest way is
/// taken. Of a lake or a wide river that is mapped as a polygon there is none.
pub(crate) fn along_drain(study: &Study, waterway: WaterwayIx) -> Option<Profile> {
    let setting = &study.setting;
    let chains = setting.waterways[waterway].chains.iter();
    let cells = chains
        .flat_map(|chain| heads(setting, chain))
        .map(|head| course(study, waterway, head))
        .max_by_key(Vec::len)
        .filter(|cells| cells.len() > 1)?;
    let mapped = &study.inputs.waterways[waterway];
    let mut stations = Vec::new();
    let mut station_m = 0.0;
    for (i, &cell) in cells.iter().enumerate() {
        if i > 0 {
            station_m += setting.frame().distance(cells[i - 1], cell);
        }
        let structure = setting.structure_at(cell).map(Feature::Structure);
        stations.push((station_m, Carrier::Mapped(structure.unwrap_or(Feature::Waterway(waterway)))));
    }
    let points = cells
        .iter()
        .zip(&stations)
        .map(|(&cell, &(station_m, carrier))| point(study, cell, setting.frame().centre(cell), station_m, carrier))
        .collect();
    let (mut marks, mut grades) = structures(study, &stations);
    marks.extend(lot_lines(study, &cells, &stations));
    marks.extend(junctions(study, waterway, &cells, &stations));
    marks.sort_by(|a, b| a.station_m.total_cmp(&b.station_m));
    grades.extend(beds(study, waterway, &cells, &stations));
    let name = mapped.name.as_ref().map_or_else(|| mapped.id.to_string(), |name| format!("{} ({name})", mapped.id));
    Some(Profile { name, start: "the upper end of the drain as mapped".to_owned(), points, marks, grades })
}

/// The first cell of a chain, and those where it comes out of a lake or a wide river that is mapped as a polygon.
fn heads<'a>(setting: &'a Setting, chain: &'a [Cell]) -> impl Iterator<Item = Cell> + 'a {
    let in_polygon = |at: usize| setting.water_of(chain[at]).is_some();
    (0..chain.len()).filter(move |&at| !in_polygon(at) && (at == 0 || in_polygon(at - 1))).map(|at| chain[at])
}

/// Down the flow while the water is in the waterway, or under a structure that gives it back to it.
fn course(study: &Study, waterway: WaterwayIx, head: Cell) -> Vec<Cell> {
    let setting = &study.setting;
    let is_in = |cell: Cell| setting.waterways_at(cell).any(|own| own == waterway);
    let carried_on = |cell: Cell| setting.structure_at(cell).is_some();
    let mut cells: Vec<Cell> = setting.flow().path(head).take_while(|&cell| is_in(cell) || carried_on(cell)).collect();
    while cells.last().is_some_and(|&last| !is_in(last)) {
        cells.pop();
    }
    cells
}

fn lot_lines<'a>(
    study: &'a Study,
    cells: &'a [Cell],
    stations: &'a [(f64, Carrier)],
) -> impl Iterator<Item = ProfileMark> + 'a {
    let land = |cell: Cell| study.setting.parties.of(cell);
    (1..cells.len()).filter(move |&i| land(cells[i]) != land(cells[i - 1])).map(move |i| ProfileMark {
        station_m: stations[i].0,
        kind: MarkKind::LotLine,
        label: party_name(study, land(cells[i])),
    })
}

/// Where other mapped waterways join.
fn junctions(study: &Study, waterway: WaterwayIx, cells: &[Cell], stations: &[(f64, Carrier)]) -> Vec<ProfileMark> {
    let setting = &study.setting;
    let mut seen = BTreeSet::new();
    let mut marks = Vec::new();
    for (&cell, &(station_m, _)) in cells.iter().zip(stations) {
        for (_, donor) in setting.frame().neighbours(cell) {
            let joins = setting.flow().receiver(donor) == Some(cell);
            if let Some(other) = setting.waterway_of(donor).filter(|&other| joins && other != waterway)
                && seen.insert(other)
            {
                let label = format!("{} joins", setting.waterways[other].id);
                marks.push(ProfileMark { station_m, kind: MarkKind::Junction, label });
            }
        }
    }
    marks
}

/// The bed as surveyed, between levels next to each other.
fn beds(study: &Study, waterway: WaterwayIx, cells: &[Cell], stations: &[(f64, Carrier)]) -> Vec<Grade> {
    let frame = study.setting.frame();
    let nearest = |x: f64, y: f64| {
        let distance = |cell: Cell| {
            let (cx, cy) = frame.centre(cell);
            (cx - x).hypot(cy - y)
        };
        (0..cells.len()).min_by(|&a, &b| distance(cells[a]).total_cmp(&distance(cells[b])))
    };
    let mut levels: Vec<(f64, f64)> = study
        .inputs
        .levels
        .iter()
        .filter(|level| level.kind == LevelKind::Bed && level.place == LevelPlace::Waterway(waterway))
        .filter_map(|level| Some((stations[nearest(level.x, level.y)?].0, level.level_m)))
        .collect();
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let grade = |pair: &[(f64, f64)]| {
        let [(from_m, from_level_m), (to_m, to_level_m)] = [pair[0], pair[1]];
        let percent = 100.0 * (from_level_m - to_level_m) / (to_m - from_m);
        Grade { from_m, to_m, from_level_m, to_level_m, label: format!("bed as surveyed, {percent:.2} %") }
    };
    levels.windows(2).filter(|pair| pair[1].0 > pair[0].0).map(grade).collect()
}
