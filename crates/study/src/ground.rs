//! From the layers to the network's setting: everything put on cells, the terrain conditioned.

mod beds;
mod channels;
mod inverts;
mod junctions;
mod kept;
mod links;
mod open_water;
mod shared_channels;

use std::collections::BTreeSet;
use std::sync::Arc;

use fallwright_land::{close_gaps, cover};
use fallwright_network::{Parties, Party, Setting, Structure, Waterway};
use fallwright_terrain::{Conditioned, Conditioning, CutLimits, condition};
use fallwright_units::{Cell, Frame, LabelRuns, MappedStructureIx, ParcelIx, RoadIx, StructureIx, WaterwayIx};
use geo::MultiPolygon;

use crate::StudyError;
use fallwright_case::{Inputs, Note};

use channels::Channels;
pub(crate) use inverts::{InvertSource, Inverts, inverts};
pub(crate) use kept::spills_over_road;
use open_water::OpenWater;
use typed_index_collections::{TiSlice, TiVec};

/// Levels that differ by less say nothing about which way water runs, where the survey states no accuracy (our choice).
const LEVEL_DOUBT_M: f64 = 0.3;
/// A difference counts as real where it exceeds this many standard deviations (our choice).
const STANDARD_DEVIATIONS_OF_DOUBT: f64 = 3.0;

/// The setting, and what was noted on the way.
pub struct Ground {
    pub setting: Setting,
    /// For each structure of the setting its position in the inputs.
    pub mapped: TiVec<StructureIx, MappedStructureIx>,
    /// Cells of tiled land by structure of the setting, and for each tiled cell its structure (1 for the first).
    pub tiled: Arc<LabelRuns>,
    /// The channels that the terrain was conditioned with.
    pub channels: Vec<Vec<Cell>>,
    /// Where the water of each kept depression ends.
    pub kept: Vec<Cell>,
    pub notes: Vec<Note>,
}

/// Puts the layers on cells and conditions the terrain.
///
/// # Errors
/// An elevation without data; culverts whose direction nothing determines.
pub fn build(inputs: &Inputs) -> Result<Ground, StudyError> {
    let mut notes = Vec::new();
    let Channels { waterways, mut surveyed_beds } = channels::on_cells(inputs, &mut notes);
    let structures = links::on_cells(inputs, &waterways, &mut notes)?;
    let parties = parties(inputs, &mut notes);
    let mut open_water = OpenWater::find(inputs, &waterways, &structures, &mut notes);
    surveyed_beds.append(&mut open_water.beds);
    let lines = waterways.iter().flat_map(|w| w.chains.clone()).chain(links::beds(&structures, &waterways));
    let known = Conditioning {
        channels: lines.chain(std::mem::take(&mut open_water.channels)).collect(),
        surveyed_beds,
        links: links::links(&structures),
        sinks: kept::named(inputs, &channel_cells(&waterways), &mut notes),
        cuts: None,
        uncut: BTreeSet::new(),
    };
    let known = open_water.with_closed_lakes(inputs, &waterways, &parties, known, &mut notes)?;
    let known = kept::with_larger(inputs, &parties, known)?;
    let terrain = &inputs.case.terrain;
    let cuts = Some(CutLimits { longest_m: terrain.longest_cut_m, deepest_m: terrain.deepest_cut_m });
    let (conditioned, known) = kept::with_holding(inputs, Conditioning { cuts, ..known }, &mut notes)?;
    let (channels, kept) = (known.channels, known.sinks);
    let is_blocked = |structure: &Structure| conditioned.blocked.contains(&structure.link.inlet);
    let (blocked, structures) = junctions::without(&inputs.ground.frame, structures, is_blocked);
    for structure in blocked {
        notes.push(Note::new(
            format!("structure {}", structure.id),
            "its water could only come back to its own inlet",
            "left out; check which way it is drawn",
        ));
    }
    let mapped = mapped(inputs, &structures);
    let tiled = Arc::new(tiled(inputs, &mapped));
    let setting = Setting::new(
        Arc::clone(&inputs.ground),
        conditioned,
        Arc::new(parties),
        inputs.parcels.len(),
        waterways,
        structures,
    );
    Ok(Ground { setting, mapped, tiled, channels, kept, notes })
}

fn conditioned(inputs: &Inputs, known: Conditioning) -> Result<Conditioned, StudyError> {
    Ok(condition(&inputs.ground, known)?)
}

pub(crate) fn waterway_is_lawful(inputs: &Inputs, class: &str) -> bool {
    inputs.profile.is_lawful(class)
}

/// Who each cell belongs to. Parcels come before roads, each in the order of their ids, and a gap no wider than the boundaries' accuracy belongs to the
/// land beside it.
fn parties(inputs: &Inputs, notes: &mut Vec<Note>) -> Parties {
    let frame = inputs.ground.frame;
    let mut shapes: Vec<MultiPolygon<f64>> = inputs.parcels.iter().map(|parcel| parcel.shape.clone()).collect();
    let parcels = shapes.len();
    shapes.extend(inputs.roads.iter().map(|road| road.shape.clone()));
    let mut labels = cover(&frame, &shapes);
    let accuracy_m = inputs.case.parcels.as_ref().map_or(0.0, |table| table.accuracy_m);
    note_closed_gaps(&frame, &close_gaps(&mut labels, accuracy_m), accuracy_m, notes);
    Parties::new(labels.values.into_iter().map(|label| match ParcelIx::from_number(label) {
        None => Party::Unowned,
        Some(ParcelIx(shape)) if shape >= parcels => Party::Road(RoadIx(shape - parcels)),
        Some(parcel) => Party::Parcel(parcel),
    }))
}

fn note_closed_gaps(frame: &Frame, closed: &[Cell], accuracy_m: f64, notes: &mut Vec<Note>) {
    if !closed.is_empty() {
        notes.push(Note::new(
            "parcels",
            format!(
                "gaps of {} {} ({:.4} ha) between lot lines",
                closed.len(),
                if closed.len() == 1 { "cell" } else { "cells" },
                frame.hectares(closed.len() as u64)
            ),
            format!("no wider than the boundaries' accuracy of {accuracy_m} m; given to the land on the west or north"),
        ));
    }
}

/// For each structure that can be used its position among all, of which they are in the same order.
fn mapped(inputs: &Inputs, structures: &TiSlice<StructureIx, Structure>) -> TiVec<StructureIx, MappedStructureIx> {
    let mut all = inputs.structures.iter_enumerated();
    let mut position =
        |structure: &Structure| all.find(|(_, mapped)| mapped.id == structure.id).map(|(position, _)| position);
    structures.iter().map(|structure| position(structure).expect("every structure was mapped")).collect()
}

/// For each cell the structure that its piped water goes to, 1 for the first; 0 where it is not tiled. `mapped` gives each
/// structure its position in the inputs, in rising order.
fn tiled(inputs: &Inputs, mapped: &TiSlice<StructureIx, MappedStructureIx>) -> LabelRuns {
    let frame = inputs.ground.frame;
    if inputs.tiled.is_empty() {
        return LabelRuns::new(std::iter::repeat_n(0, frame.len()));
    }
    let shapes: Vec<MultiPolygon<f64>> = inputs.tiled.iter().map(|area| area.shape.clone()).collect();
    let label_of = |main: MappedStructureIx| mapped.binary_search(&main).map_or(0, StructureIx::number);
    let by_area: Vec<u32> = inputs.tiled.iter().map(|area| label_of(area.structure)).collect();
    let areas = cover(&frame, &shapes).values.into_iter().zip(&inputs.ground.values);
    let structure = |(area, ground): (u32, &f32)| match area.checked_sub(1) {
        Some(area) if !ground.is_nan() => by_area[area as usize],
        _ => 0,
    };
    LabelRuns::new(areas.map(structure))
}

/// How far two levels must differ to say which is the higher, metres.
pub(crate) fn level_doubt_m(inputs: &Inputs) -> f64 {
    inputs.case.terrain.rmse_z_m.map_or(LEVEL_DOUBT_M, |rmse| STANDARD_DEVIATIONS_OF_DOUBT * rmse)
}

/// Cells that carry open water: those of chains and of waters.
fn channel_cells(waterways: &TiSlice<WaterwayIx, Waterway>) -> BTreeSet<Cell> {
    let cells =
        |waterway: &Waterway| waterway.chains.iter().chain(&waterway.waters).flatten().copied().collect::<Vec<_>>();
    waterways.iter().flat_map(cells).collect()
}
