//! A case worked out: the network on its terrain and what every parcel's water does.

use std::collections::BTreeMap;
use std::sync::Arc;

use fallwright_geodata::release_free_memory;
use fallwright_network::{
    ChannelTest, Courses, Edge, Feature, MarkedChannels, OutletNetwork, Party, Path, Reaches, Setting, Share,
    ShareLimits, Trace, marked_channels, path, piped_by_reach, reaches, shares,
};
use fallwright_terrain::{Conditioned, Flow, Links, Revised, RevisionBase, accumulation_u32};
use fallwright_units::{Cell, Frame, LabelRuns, Raster, SQUARE_METRES_PER_HECTARE};

use crate::Progress;
use crate::failure::Failure;
use crate::ground::{self, Ground};
use crate::inputs::{Inputs, MappedStructure, Note};
use crate::suspect::suspected_cells;

/// Below both, a leaving point is part of the remainder (our choice).
const SMALL_SHARE_FRACTION: f64 = 0.02;
pub(crate) const SMALL_SHARE_HA: f64 = 0.05;

pub(crate) struct Study {
    pub(crate) inputs: Arc<Inputs>,
    pub(crate) setting: Setting,
    /// For each structure of the setting its position in the inputs.
    mapped: Vec<usize>,
    /// The channels that the terrain was conditioned with.
    pub(crate) channels: Vec<Vec<Cell>>,
    /// Where the water of each kept depression ends.
    pub(crate) kept: Vec<Cell>,
    /// For each cell of tiled land its structure, 1 for the first.
    pub(crate) tiled: Arc<LabelRuns>,
    pub(crate) reaches: Reaches,
    /// By parcel.
    pub(crate) shares: Vec<Vec<Share>>,
    /// The shares' paths; cells that water would cross only if a culvert were where one is suspected are marked.
    pub(crate) courses: Courses,
    pub(crate) network: OutletNetwork,
    pub(crate) marked: MarkedChannels,
    /// Cells of tiled land by structure, and passing through each reach.
    pub(crate) tiled_by_structure: Vec<u64>,
    pub(crate) piped_by_reach: Vec<u64>,
    /// Notes of reading and of building, in order.
    pub(crate) notes: Vec<Note>,
}

/// Works a case out.
pub(crate) fn work_out(inputs: Arc<Inputs>, progress: Progress) -> Result<Study, Failure> {
    progress("conditioning the terrain and finding flow directions");
    let ground = ground::build(&inputs)?;
    release_free_memory();
    progress("tracing the outlet network");
    Ok(on_ground(inputs, ground))
}

fn on_ground(inputs: Arc<Inputs>, ground: Ground) -> Study {
    let Ground { setting, mapped, tiled, channels, kept, notes } = ground;
    let reaches = reaches(&setting);
    let small = ShareLimits {
        fraction: SMALL_SHARE_FRACTION,
        cells: SMALL_SHARE_HA * SQUARE_METRES_PER_HECTARE / setting.frame().cell_square_metres(),
    };
    let shares = shares(&setting, small);
    let leaving: Vec<Vec<Cell>> = shares.iter().map(|own| own.iter().map(|share| share.leaving).collect()).collect();
    let suspected = suspected_cells(&setting);
    let courses = Courses::find(&setting, &leaving, |cell| suspected.contains(cell));
    let network = OutletNetwork::build(&setting, &reaches, &leaving);
    let marked = marked_channels(&setting, channel_test(&inputs, &setting));
    let mut tiled_by_structure = vec![0; setting.structures.len()];
    for (label, cells) in tiled.runs().filter(|&(label, _)| label != 0) {
        tiled_by_structure[label as usize - 1] += cells as u64;
    }
    let piped_by_reach = piped_by_reach(&setting, &network, &reaches, &tiled_by_structure);
    let notes = [inputs.notes.clone(), notes].concat();
    Study {
        inputs,
        setting,
        mapped,
        channels,
        kept,
        tiled,
        reaches,
        shares,
        courses,
        network,
        marked,
        tiled_by_structure,
        piped_by_reach,
        notes,
    }
}

/// Stands for a terrain that is elsewhere.
fn nothing(frame: Frame) -> Conditioned {
    let none = || Raster { frame, values: Vec::new() };
    Conditioned {
        enforced: none(),
        surface: none(),
        bed: BTreeMap::new(),
        cuts: Vec::new(),
        flow: Flow { direction: Raster { frame, values: Vec::new() }, links: Links::default() },
        blocked: Vec::new(),
    }
}

pub(crate) fn channel_test(inputs: &Inputs, setting: &Setting) -> ChannelTest {
    let test = &inputs.profile.unmapped_channel;
    let cells = test.contributing_ha.value * SQUARE_METRES_PER_HECTARE / setting.frame().cell_square_metres();
    ChannelTest {
        cells: cells.ceil() as u64,
        depth_m: test.depth_m.value,
        bank_distance_m: test.bank_distance_m.value,
        length_m: test.length_m.value,
    }
}

impl Study {
    /// What the conditioned terrain was made from.
    pub(crate) fn revision_base(&self) -> RevisionBase<'_> {
        let Setting { ground, conditioned, .. } = &self.setting;
        RevisionBase::new(ground, conditioned, &self.channels, &self.kept)
    }

    /// Looks at the same case on revised terrain. The terrain is changed for as long and then restored, and what drains through
    /// each cell is counted again, since two of them take much memory.
    pub(crate) fn on_revised<T>(&mut self, mut revised: Revised, look: impl FnOnce(&Self) -> T) -> T {
        let elsewhere = nothing(self.setting.frame());
        self.setting.area.values = Vec::new();
        let mut conditioned = std::mem::replace(&mut self.setting.conditioned, elsewhere);
        revised.swap(&mut conditioned);
        let Setting { ground, parties, parcel_count, waterways, structures, .. } = &self.setting;
        let setting = Setting::new(
            Arc::clone(ground),
            conditioned,
            Arc::clone(parties),
            *parcel_count,
            waterways.clone(),
            structures.clone(),
        );
        let (mapped, tiled) = (self.mapped.clone(), Arc::clone(&self.tiled));
        let (channels, kept) = (self.channels.clone(), self.kept.clone());
        let ground = Ground { setting, mapped, tiled, channels, kept, notes: Vec::new() };
        let mut other = on_ground(Arc::clone(&self.inputs), ground);
        let seen = look(&other);
        revised.swap(&mut other.setting.conditioned);
        self.setting.conditioned = other.setting.conditioned;
        self.setting.area = accumulation_u32(&self.setting.conditioned.flow);
        seen
    }

    /// What is told of the path of a share.
    pub(crate) fn trace(&self, parcel: usize, share: usize) -> Trace {
        self.courses.trace(&self.setting, parcel, share)
    }

    /// The path of a share with the places on it.
    pub(crate) fn path(&self, parcel: usize, share: usize) -> Path {
        path(&self.setting, self.shares[parcel][share].leaving)
    }

    pub(crate) fn hectares(&self, cells: u64) -> f64 {
        fallwright_report::hectares(self.setting.frame().hectares(cells))
    }

    /// A parcel's id, `road` or `unowned`.
    pub(crate) fn party_name(&self, party: Party) -> String {
        match party {
            Party::Unowned => "unowned".to_owned(),
            Party::Road => "road".to_owned(),
            Party::Parcel(parcel) => self.inputs.parcels[parcel].id.to_string(),
        }
    }

    pub(crate) fn party_owner(&self, party: Party) -> Option<&str> {
        match party {
            Party::Parcel(parcel) => self.inputs.parcels[parcel].owner.as_deref(),
            Party::Unowned | Party::Road => None,
        }
    }

    pub(crate) fn parcel_position(&self, id: &str) -> Option<usize> {
        // They are in the order of their ids.
        self.inputs.parcels.binary_search_by(|parcel| parcel.id.as_str().cmp(id)).ok()
    }

    /// A structure's position in the inputs, and what is mapped there.
    pub(crate) fn mapped(&self, structure: usize) -> (usize, &MappedStructure) {
        let position = self.mapped[structure];
        (position, &self.inputs.structures[position])
    }

    pub(crate) fn feature_name(&self, feature: Feature) -> Option<String> {
        match feature {
            Feature::Waterway(position) => self.inputs.waterways[position].name.clone(),
            Feature::Structure(_) => None,
        }
    }

    pub(crate) fn feature_class(&self, feature: Feature) -> &str {
        self.setting.feature_class(feature).unwrap_or_default()
    }

    /// Ids of the reaches that carry a share's water, in order.
    pub(crate) fn reach_chain(&self, parcel: usize, share: usize) -> Vec<String> {
        let node = self.network.leaving(parcel, share);
        node.map_or_else(Vec::new, |node| self.network.downstream(node))
            .into_iter()
            .filter_map(|edge| match edge {
                Edge::Reach(reach) | Edge::Joins(reach) => Some(self.reaches.list[reach].id.to_string()),
                Edge::Overland | Edge::Structure(_) => None,
            })
            .collect()
    }

    pub(crate) fn surveyed_m(&self, cell: Cell) -> Option<f64> {
        let z = self.setting.ground[cell];
        (!z.is_nan()).then(|| fallwright_report::metres(f64::from(z)))
    }
}
