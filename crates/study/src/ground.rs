//! From the layers to the network's setting: everything put on cells, the terrain conditioned.

mod beds;
mod channels;
mod drawn_lines;
mod inverts;
mod junctions;
mod kept;
mod level_doubt;
mod links;
mod open_water;
mod parties;
mod shared_channels;
mod tiled;

use std::collections::BTreeSet;
use std::sync::Arc;

use fallwright_case::{Inputs, Note};
use fallwright_network::{Setting, Structure};
use fallwright_terrain::{Conditioning, CutLimits};
use fallwright_units::{Cell, LabelRuns, MappedStructureIx, StructureIx};
use typed_index_collections::{TiSlice, TiVec};

use channels::{Channels, channel_cells};
pub(crate) use inverts::{InvertSource, Inverts, inverts};
pub(crate) use kept::spills_over_road;
use open_water::OpenWater;

use crate::error::StudyError;

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
    let parties = parties::on_cells(inputs, &mut notes);
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
    let known = kept::with_larger(&inputs.ground, inputs.case.terrain.keep_larger, &parties, known)?;
    let terrain = &inputs.case.terrain;
    let cuts = Some(CutLimits { longest_m: terrain.longest_cut_m, deepest_m: terrain.deepest_cut_m });
    let (conditioned, known) = kept::with_holding(inputs, Conditioning { cuts, ..known }, &mut notes)?;
    let (channels, kept) = (known.channels, known.sinks);
    let is_blocked = |structure: &Structure| conditioned.blocked.contains(&structure.link.inlet);
    let (blocked, structures) = junctions::without(&inputs.ground.frame, &structures, is_blocked);
    for structure in blocked {
        notes.push(Note::new(
            format!("structure {}", structure.id),
            "its water could only come back to its own inlet",
            "left out; check which way it is drawn",
        ));
    }
    let mapped = mapped(inputs, &structures);
    let tiled = Arc::new(tiled::on_cells(inputs, &mapped));
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

/// For each structure that can be used its position among all, of which they are in the same order.
fn mapped(inputs: &Inputs, structures: &TiSlice<StructureIx, Structure>) -> TiVec<StructureIx, MappedStructureIx> {
    let mut all = inputs.structures.iter_enumerated();
    let mut position =
        |structure: &Structure| all.find(|(_, mapped)| mapped.id == structure.id).map(|(position, _)| position);
    structures.iter().map(|structure| position(structure).expect("every structure was mapped")).collect()
}
