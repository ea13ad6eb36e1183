//! Mapped waterways on cells, in the direction of flow.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_case::{Inputs, MappedWaterway, Note};
use fallwright_network::Waterway;
use fallwright_units::{Cell, WaterwayIx};
use typed_index_collections::{TiSlice, TiVec};

use super::beds::{self, Surveyed};
use super::drawn_lines::{self, DrawnLines};
use super::level_doubt::level_doubt_m;
use super::open_water;
use super::shared_channels::SharedChannels;

/// Waterways on cells with what is surveyed of their beds.
pub(super) struct Channels {
    pub waterways: TiVec<WaterwayIx, Waterway>,
    /// Bed level of the cells from the first surveyed one of a chain to the last, metres.
    pub surveyed_beds: BTreeMap<Cell, f32>,
}

/// The waterways of a case as chains of cells, in the order of the case. Where lines run in one channel the strongest class
/// has the chain.
pub(super) fn on_cells(inputs: &Inputs, notes: &mut Vec<Note>) -> Channels {
    let mut strongest_first: Vec<WaterwayIx> = inputs.waterways.keys().collect();
    strongest_first.sort_by_key(|&position| inputs.profile.strength(&inputs.waterways[position].class));
    let drawn = drawn_lines::on_cells(inputs, notes);
    let mut shared = SharedChannels::default();
    let mut waterways: BTreeMap<WaterwayIx, Waterway> = BTreeMap::new();
    let mut in_polygons: BTreeSet<Cell> = BTreeSet::new();
    for position in strongest_first {
        let waterway = if inputs.waterways[position].is_polygon() {
            polygon(inputs, position, &mut in_polygons, notes)
        } else {
            waterway(inputs, (position, &drawn[position]), &shared, notes)
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

fn waterway(
    inputs: &Inputs,
    (position, drawn): (WaterwayIx, &DrawnLines),
    shared: &SharedChannels,
    notes: &mut Vec<Note>,
) -> Waterway {
    let mapped = &inputs.waterways[position];
    let DrawnLines { lines, is_turned, surveyed } = drawn;
    let (mut chains, mut shares, mut along_m) = (Vec::new(), Vec::new(), BTreeMap::new());
    for ((line, parts), &is_turned) in mapped.lines.iter().zip(lines).zip(is_turned) {
        note_divide(inputs, mapped, parts, notes);
        let course = shared.course(inputs, mapped, line);
        if course.along_m.is_empty() {
            chains.extend(parts.iter().cloned());
        } else {
            let mut own: Vec<Vec<Cell>> = course.own.iter().flat_map(|own| drawn_lines::parts(inputs, own)).collect();
            if is_turned {
                drawn_lines::turn(&mut own);
            }
            chains.extend(own);
        }
        shares.extend(course.shares);
        for (other, metres) in course.along_m {
            *along_m.entry(other).or_default() += metres;
        }
    }
    note_course(inputs, mapped, &along_m, chains.is_empty() && shares.is_empty(), notes);
    notes.extend(beds::notes(mapped.id.as_str(), &inputs.ground, &lines.concat(), surveyed));
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
