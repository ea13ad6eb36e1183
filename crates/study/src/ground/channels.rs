//! Mapped waterways on cells, in the direction of flow.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_case::{Inputs, MappedWaterway, Note};
use fallwright_land::cells_along;
use fallwright_network::Waterway;
use fallwright_units::{Cell, WaterwayIx};
use geo::LineString;
use typed_index_collections::{TiSlice, TiVec};

use super::beds::{self, Surveyed};
use super::level_doubt::{STANDARD_DEVIATIONS_OF_DOUBT, level_doubt_m};
use super::open_water;
use super::shared_channels::SharedChannels;

/// Waterways on cells with what is surveyed of their beds.
pub(super) struct Channels {
    pub waterways: TiVec<WaterwayIx, Waterway>,
    /// Bed level of the cells from the first surveyed one of a chain to the last, metres.
    pub surveyed_beds: BTreeMap<Cell, f32>,
}

/// The waterways of a case as chains of cells, in the order of the case. A line along which the ground clearly rises is
/// taken the other way round, and noted. Where lines run in one channel the strongest class has the chain.
pub(super) fn on_cells(inputs: &Inputs, notes: &mut Vec<Note>) -> Channels {
    let mut strongest_first: Vec<WaterwayIx> = inputs.waterways.keys().collect();
    strongest_first.sort_by_key(|&position| inputs.profile.strength(&inputs.waterways[position].class));
    let mut shared = SharedChannels::default();
    let mut waterways: BTreeMap<WaterwayIx, Waterway> = BTreeMap::new();
    let mut in_polygons: BTreeSet<Cell> = BTreeSet::new();
    for position in strongest_first {
        let waterway = if inputs.waterways[position].is_polygon() {
            polygon(inputs, position, &mut in_polygons, notes)
        } else {
            waterway(inputs, position, &shared, notes)
        };
        shared.add(position, &inputs.waterways[position], &waterway);
        waterways.insert(position, waterway);
    }
    let waterways: TiVec<WaterwayIx, Waterway> = waterways.into_values().collect();
    Channels { surveyed_beds: surveyed_beds(inputs, &waterways), waterways }
}

/// Whether the rule profile has a class as a lawful outlet.
pub(super) fn waterway_is_lawful(inputs: &Inputs, class: &str) -> bool {
    inputs.profile.is_lawful(class)
}

/// Cells that carry open water: those of chains and of waters.
pub(super) fn channel_cells(waterways: &TiSlice<WaterwayIx, Waterway>) -> BTreeSet<Cell> {
    let cells =
        |waterway: &Waterway| waterway.chains.iter().chain(&waterway.waters).flatten().copied().collect::<Vec<_>>();
    waterways.iter().flat_map(cells).collect()
}

/// A lake or a wide river; where polygons overlap, the strongest class has the cells.
fn polygon(inputs: &Inputs, position: WaterwayIx, taken: &mut BTreeSet<Cell>, notes: &mut Vec<Note>) -> Waterway {
    let mapped = &inputs.waterways[position];
    let waters = open_water::waters(inputs, position, taken);
    if waters.is_empty() {
        let found =
            "a polygon that holds the centre of no cell of the elevation, or of none that a stronger one leaves";
        notes.push(Note::new(
            format!("waterway {}", mapped.id),
            found,
            "it carries no water; frontage on it is measured",
        ));
    }
    let (id, class) = (mapped.id.clone(), mapped.class.clone());
    Waterway {
        id,
        class,
        lawful: waterway_is_lawful(inputs, &mapped.class),
        chains: Vec::new(),
        shares: Vec::new(),
        waters,
        is_lake: open_water::is_lake(inputs, &mapped.class),
    }
}

fn waterway(inputs: &Inputs, position: WaterwayIx, shared: &SharedChannels, notes: &mut Vec<Note>) -> Waterway {
    let mapped = &inputs.waterways[position];
    let mut lines: Vec<Vec<Vec<Cell>>> = mapped.lines.iter().map(|line| parts(inputs, line)).collect();
    let cells: Vec<Cell> = lines.iter().flatten().flatten().copied().collect();
    let surveyed = beds::by_cell(&inputs.ground.frame, &inputs.levels, position, &cells);
    let (mut chains, mut shares, mut along_m) = (Vec::new(), Vec::new(), BTreeMap::new());
    for (line, parts) in mapped.lines.iter().zip(&mut lines) {
        let is_turned = direct(inputs, mapped, parts, &surveyed, notes);
        note_divide(inputs, mapped, parts, notes);
        let course = shared.course(inputs, mapped, line);
        if course.along_m.is_empty() {
            chains.extend(parts.iter().cloned());
        } else {
            let mut own: Vec<Vec<Cell>> = course.own.iter().flat_map(|own| self::parts(inputs, own)).collect();
            if is_turned {
                turn(&mut own);
            }
            chains.extend(own);
        }
        shares.extend(course.shares);
        for (other, metres) in course.along_m {
            *along_m.entry(other).or_default() += metres;
        }
    }
    note_course(inputs, mapped, &along_m, chains.is_empty() && shares.is_empty(), notes);
    notes.extend(beds::notes(mapped.id.as_str(), &inputs.ground, &lines.concat(), &surveyed));
    let (id, class) = (mapped.id.clone(), mapped.class.clone());
    Waterway {
        id,
        class,
        lawful: waterway_is_lawful(inputs, &mapped.class),
        chains,
        shares,
        waters: Vec::new(),
        is_lake: open_water::is_lake(inputs, &mapped.class),
    }
}

fn note_course(
    inputs: &Inputs,
    mapped: &MappedWaterway,
    along_m: &BTreeMap<WaterwayIx, f64>,
    is_nowhere: bool,
    notes: &mut Vec<Note>,
) {
    let about = || format!("waterway {}", mapped.id);
    if is_nowhere {
        notes.push(Note::new(about(), "no part on the elevation", "it has no effect"));
    }
    for (&other, metres) in along_m {
        let other = &inputs.waterways[other];
        notes.push(Note::new(
            about(),
            format!("it runs along {} for {metres:.0} m", other.id),
            format!("taken as one channel with both statuses, drawn as {} is", other.id),
        ));
    }
}

/// Bed levels along the chains. Those of a waterway that runs in another's channel count there.
fn surveyed_beds(inputs: &Inputs, waterways: &TiSlice<WaterwayIx, Waterway>) -> BTreeMap<Cell, f32> {
    let frame = &inputs.ground.frame;
    let of = |(position, waterway): (WaterwayIx, &Waterway)| {
        let shares = waterway.shares.iter().map(|(_, cell)| cell);
        let cells: Vec<Cell> = waterway.chains.iter().flatten().chain(shares).copied().collect();
        beds::by_cell(frame, &inputs.levels, position, &cells)
    };
    let own: Vec<Surveyed> = waterways.iter_enumerated().map(of).collect();
    let mut in_others = Surveyed::new();
    for (waterway, surveyed) in waterways.iter().zip(&own) {
        in_others.extend(waterway.shares.iter().filter_map(|(_, cell)| Some((*cell, *surveyed.get(cell)?))));
    }
    let mut levels: BTreeMap<Cell, f32> = BTreeMap::new();
    for (waterway, mut surveyed) in waterways.iter().zip(own) {
        for (&cell, &level) in &in_others {
            surveyed.entry(cell).or_insert(level);
        }
        for chain in &waterway.chains {
            for (cell, level) in beds::interpolated(frame, chain, &beds::along(chain, &surveyed)) {
                levels.entry(cell).and_modify(|bed| *bed = bed.min(level)).or_insert(level);
            }
        }
    }
    levels
}

/// A line as chains of cells with data.
fn parts(inputs: &Inputs, line: &LineString<f64>) -> Vec<Vec<Cell>> {
    cells_along(&inputs.ground.frame, line)
        .into_iter()
        .map(|chain| chain.into_iter().filter(|&cell| !inputs.ground[cell].is_nan()).collect())
        .filter(|chain: &Vec<Cell>| !chain.is_empty())
        .collect()
}

/// Turns a line round where the ground along it clearly rises and no survey says that its bed falls as drawn; returns whether
/// it did.
fn direct(
    inputs: &Inputs,
    mapped: &MappedWaterway,
    parts: &mut [Vec<Cell>],
    surveyed: &Surveyed,
    notes: &mut Vec<Note>,
) -> bool {
    let levels: Vec<f32> = parts.iter().flatten().map(|&cell| inputs.ground[cell]).collect();
    let Some(rise) = clear_rise(&levels, level_doubt_m(inputs)) else { return false };
    let about = format!("waterway {}", mapped.id);
    let found = format!("a line drawn uphill: the ground along it rises by {rise:.2} m");
    let surveyed_rise = beds::rise_m(&beds::along(&parts.concat(), surveyed));
    if let Some(fall) = surveyed_rise.map(|rise| -rise).filter(|&fall| fall > 0.0) {
        notes.push(Note::new(
            about,
            format!("{found}, while its surveyed bed falls by {fall:.2} m"),
            "taken as flowing the way it is drawn",
        ));
        return false;
    }
    notes.push(Note::new(about, found, "taken as flowing the other way; correct the line if it is meant as drawn"));
    turn(parts);
    true
}

fn turn(parts: &mut [Vec<Cell>]) {
    parts.reverse();
    for chain in parts {
        chain.reverse();
    }
}

/// Ground along a channel that stands clearly above its upper end is a divide or a bank that the channel crosses.
fn note_divide(inputs: &Inputs, mapped: &MappedWaterway, parts: &[Vec<Cell>], notes: &mut Vec<Note>) {
    let levels = || parts.iter().flatten().map(|&cell| f64::from(inputs.ground[cell]));
    let (Some(upper), Some(highest)) = (levels().next(), levels().reduce(f64::max)) else { return };
    if highest - upper > level_doubt_m(inputs) {
        notes.push(Note::new(
            format!("waterway {}", mapped.id),
            format!("ground along it {:.2} m above its upper end: it crosses a divide or a bank", highest - upper),
            "its bed was taken to run through; check the line, and map the culvert if there is one",
        ));
    }
}

/// How far the ground rises along a line, metres, where that is clear: the straight grade fitted to all its cells rises by
/// more than the doubt about a level and more than the ground scatters about that grade. On coarse cells the levels at
/// the two ends alone say little: a cell holds the banks too, and the channel may lie in the cell beside it.
///
/// *Method*: least squares on the position in the line.
fn clear_rise(levels: &[f32], doubt_m: f64) -> Option<f64> {
    /// Fewer cells cannot show how much the ground scatters (our choice).
    const FEWEST_CELLS: usize = 5;
    if levels.len() < FEWEST_CELLS {
        return None;
    }
    let cells = levels.len() as f64;
    let middle = (cells - 1.0) / 2.0;
    let mean = levels.iter().map(|&z| f64::from(z)).sum::<f64>() / cells;
    let about_middle = || levels.iter().enumerate().map(|(at, &z)| (at as f64 - middle, f64::from(z) - mean));
    let spread: f64 = about_middle().map(|(x, _)| x * x).sum();
    let grade = about_middle().map(|(x, z)| x * z).sum::<f64>() / spread;
    let scatter = (about_middle().map(|(x, z)| (z - grade * x).powi(2)).sum::<f64>() / (cells - 2.0)).sqrt();
    let rise = grade * (cells - 1.0);
    (rise > doubt_m.max(STANDARD_DEVIATIONS_OF_DOUBT * scatter)).then_some(rise)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(levels: &[f32], doubt_m: f64, expected: Option<f64>) {
        let found = clear_rise(levels, doubt_m).map(|rise| (rise * 1000.0).round() / 1000.0);
        assert_eq!(found, expected, "{levels:?}");
    }

    #[test]
    fn a_line_rises_where_its_whole_profile_says_so() {
        check(&[100.0, 100.25, 100.5, 100.75, 101.0], 0.3, Some(1.0));
        check(&[101.0, 100.75, 100.5, 100.25, 100.0], 0.3, None);
        check(&[100.0, 100.05, 100.1, 100.15, 100.2], 0.3, None);
        check(&[100.0, 100.05, 100.1, 100.15, 100.2], 0.1, Some(0.2));
        check(&[100.0, 100.5, 101.0, 101.5], 0.3, None);
        check(&[], 0.3, None);
    }

    #[test]
    fn ends_alone_prove_nothing_where_the_ground_scatters() {
        // The last cell is a metre above the first, on ground that goes up and down by as much.
        check(&[36.0, 36.8, 35.9, 36.9, 36.1, 36.6, 35.8, 37.0], 0.3, None);
        // A steady rise with an embankment in the middle.
        check(&[36.0, 36.1, 36.2, 36.3, 36.4, 36.9, 36.6, 36.7, 36.8, 36.9, 37.0], 0.3, Some(1.0));
    }
}
