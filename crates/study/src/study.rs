//! A case worked out: the network on its terrain and what every parcel's water does.

use std::sync::Arc;

use fallwright_case::Progress;
use fallwright_case::{CaseSize, Inputs, MappedStructure, Note};
use fallwright_geodata::release_free_memory;
use fallwright_land::ShapeIndex;
use fallwright_network::{
    ChannelTest, Courses, Edge, Feature, MarkedChannels, OutletNetwork, Party, Path, Reach, Reaches, Setting, Share,
    ShareLimits, Trace, marked_channels, path, piped_by_reach, reaches, shares,
};
use fallwright_terrain::{Revised, RevisionBase};
use fallwright_units::{
    Cell, LabelRuns, MappedStructureIx, ParcelIx, ReachIx, RoadIx, SQUARE_METRES_PER_HECTARE, ShareIx, StructureIx,
};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use crate::error::StudyError;
use crate::ground::{self, Ground};
use crate::suspected_culvert::SuspectedCulverts;

/// Below both, a leaving point is part of the remainder (our choice).
const SMALL_SHARE_FRACTION: f64 = 0.02;
pub(crate) const SMALL_SHARE_HA: f64 = 0.05;

/// A case worked out. It is never changed; [`Study::revised`] gives another one.
pub struct Study {
    pub inputs: Arc<Inputs>,
    pub setting: Setting,
    /// For each structure of the setting its position in the inputs.
    mapped: Arc<TiSlice<StructureIx, MappedStructureIx>>,
    /// The channels that the terrain was conditioned with.
    channels: Arc<[Vec<Cell>]>,
    /// Where the water of each kept depression ends.
    pub kept: Arc<[Cell]>,
    pub(crate) suspected: Arc<SuspectedCulverts>,
    /// The shapes of the constraints of the inputs, in their order.
    pub(crate) constraints: Arc<ShapeIndex>,
    /// For each cell of tiled land its structure, 1 for the first.
    pub tiled: Arc<LabelRuns>,
    pub reaches: Reaches,
    /// By parcel.
    pub shares: TiVec<ParcelIx, TiVec<ShareIx, Share>>,
    /// The shares' paths; cells that water would cross only if a culvert were where one is suspected are marked.
    pub courses: Courses,
    pub network: OutletNetwork,
    pub marked: MarkedChannels,
    /// Cells of tiled land by structure, and passing through each reach.
    pub tiled_by_structure: TiVec<StructureIx, u64>,
    pub piped_by_reach: TiVec<ReachIx, u64>,
    /// Notes of reading and of building, in order.
    pub notes: Arc<[Note]>,
}

/// What does not change with the terrain.
struct OnLand {
    inputs: Arc<Inputs>,
    mapped: Arc<TiSlice<StructureIx, MappedStructureIx>>,
    channels: Arc<[Vec<Cell>]>,
    kept: Arc<[Cell]>,
    suspected: Arc<SuspectedCulverts>,
    constraints: Arc<ShapeIndex>,
    tiled: Arc<LabelRuns>,
}

/// What the work on a case depends on.
pub fn size(inputs: &Inputs, setting: &Setting) -> CaseSize {
    let (cells, parcels) = (setting.frame().len(), inputs.parcels.len());
    CaseSize { cells, parcels, channel_cells: setting.channel_cells().count() }
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
    /// Works a case out.
    ///
    /// # Errors
    /// An elevation without data; culverts without any sign of which way they run.
    pub fn of(inputs: Arc<Inputs>, progress: Progress) -> Result<Self, StudyError> {
        progress("conditioning the terrain and finding flow directions");
        let ground = ground::build(&inputs)?;
        release_free_memory();
        progress("tracing the outlet network");
        let Ground { setting, mapped, tiled, channels, kept, notes } = ground;
        let notes = [inputs.notes.clone(), notes].concat();
        let shapes = inputs.constraints.iter().map(|constraint| constraint.shape.clone());
        let on_land = OnLand {
            constraints: ShapeIndex::new(shapes).into(),
            inputs,
            mapped: mapped.into_boxed_slice().into(),
            channels: channels.into(),
            kept: kept.into(),
            suspected: SuspectedCulverts::find(&setting).into(),
            tiled,
        };
        Ok(Self::on(setting, on_land, notes.into()))
    }

    /// The same case on revised terrain. What does not change with the terrain is shared.
    #[must_use]
    pub fn revised(&self, revised: Revised) -> Self {
        let on_land = OnLand {
            inputs: Arc::clone(&self.inputs),
            mapped: Arc::clone(&self.mapped),
            channels: Arc::clone(&self.channels),
            kept: Arc::clone(&self.kept),
            suspected: Arc::clone(&self.suspected),
            constraints: Arc::clone(&self.constraints),
            tiled: Arc::clone(&self.tiled),
        };
        Self::on(self.setting.revised(revised), on_land, Arc::clone(&self.notes))
    }

    fn on(setting: Setting, on_land: OnLand, notes: Arc<[Note]>) -> Self {
        let OnLand { inputs, mapped, channels, kept, suspected, constraints, tiled } = on_land;
        let reaches = reaches(&setting);
        let small = ShareLimits {
            fraction: SMALL_SHARE_FRACTION,
            cells: SMALL_SHARE_HA * SQUARE_METRES_PER_HECTARE / setting.frame().cell_square_metres(),
        };
        let shares = shares(&setting, small);
        let leaving: TiVec<ParcelIx, TiVec<ShareIx, Cell>> =
            shares.iter().map(|own| own.iter().map(|share| share.leaving).collect()).collect();
        let suspected_cells = suspected.cells(&setting);
        let courses = Courses::find(&setting, &leaving, |cell| suspected_cells.contains(cell));
        let network = OutletNetwork::build(&setting, &reaches, &leaving);
        let marked = marked_channels(&setting, channel_test(&inputs, &setting));
        let mut tiled_by_structure: TiVec<StructureIx, u64> = ti_vec![0; setting.structures.len()];
        for (label, cells) in tiled.runs() {
            if let Some(structure) = StructureIx::from_number(label) {
                tiled_by_structure[structure] += cells as u64;
            }
        }
        let piped_by_reach = piped_by_reach(&setting, &network, &reaches, &tiled_by_structure);
        Self {
            inputs,
            setting,
            mapped,
            channels,
            kept,
            suspected,
            constraints,
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

    /// What the conditioned terrain was made from.
    pub(crate) fn revision_base(&self) -> RevisionBase<'_> {
        let Setting { ground, conditioned, .. } = &self.setting;
        RevisionBase::new(ground, conditioned, &self.channels, &self.kept)
    }

    /// The path of a share, without the places on it.
    pub fn trace(&self, parcel: ParcelIx, share: ShareIx) -> Trace {
        self.courses.trace(&self.setting, parcel, share)
    }

    /// The path of a share with the places on it.
    pub fn path(&self, parcel: ParcelIx, share: ShareIx) -> Path {
        path(&self.setting, self.shares[parcel][share].leaving)
    }

    pub fn hectares(&self, cells: u64) -> f64 {
        fallwright_units::rounded_hectares(self.setting.frame().hectares(cells))
    }

    /// Cells whose surface water leaves a reach: at its last cell, of a lake or wide river that is mapped as a polygon at every
    /// cell from which it goes on.
    pub fn cells_through(&self, reach: ReachIx) -> u64 {
        let Reach { waterway, cells, .. } = &self.reaches.list[reach];
        let is_in = |cell: Cell| self.reaches.of(cell) == Some(reach);
        let leaves = |&&cell: &&Cell| !self.setting.flow().receiver(cell).is_some_and(is_in);
        if self.setting.waterways[*waterway].is_polygon() {
            cells.iter().filter(leaves).map(|&cell| self.setting.area(cell)).sum()
        } else {
            cells.last().map_or(0, |&last| self.setting.area(last))
        }
    }

    pub fn party_owner(&self, party: Party) -> Option<&str> {
        match party {
            Party::Parcel(parcel) => self.inputs.parcels[parcel].owner.as_deref(),
            Party::Unowned | Party::Road(_) => None,
        }
    }

    pub fn parcel_position(&self, id: &str) -> Option<ParcelIx> {
        // They are in the order of their ids.
        self.inputs.parcels.binary_search_by(|parcel| parcel.id.as_str().cmp(id)).ok()
    }

    pub fn road_position(&self, id: &str) -> Option<RoadIx> {
        // They are in the order of their ids.
        self.inputs.roads.binary_search_by(|road| road.id.as_str().cmp(id)).ok()
    }

    /// The parcel or road that a row of a schedule means: the parcel where both have its id (our choice).
    pub fn scheduled_party(&self, id: &str) -> Option<Party> {
        let road = || self.road_position(id).map(Party::Road);
        self.parcel_position(id).map(Party::Parcel).or_else(road)
    }

    /// A structure's position in the inputs, and what is mapped there.
    pub fn mapped(&self, structure: StructureIx) -> (MappedStructureIx, &MappedStructure) {
        let position = self.mapped[structure];
        (position, &self.inputs.structures[position])
    }

    /// Cells whose surface water goes through a structure: by its own inlet and by those of the pipes that join it.
    pub fn cells_into(&self, structure: StructureIx) -> u64 {
        let inlets = self.setting.joining(structure).map(|joining| self.setting.structures[joining].link.inlet);
        inlets.map(|inlet| self.setting.area(inlet)).sum()
    }

    /// The structure that a cell is drained to by pipe; `None` where it is not tiled.
    pub fn drained_to(&self, cell: Cell) -> Option<StructureIx> {
        StructureIx::from_number(self.tiled[cell])
    }

    pub fn feature_name(&self, feature: Feature) -> Option<String> {
        match feature {
            Feature::Waterway(position) => self.inputs.waterways[position].name.clone(),
            Feature::Structure(_) => None,
        }
    }

    pub fn feature_class(&self, feature: Feature) -> &str {
        self.setting.feature_class(feature).unwrap_or_default()
    }

    /// Ids of the reaches that carry a share's water, in order.
    pub fn reach_chain(&self, parcel: ParcelIx, share: ShareIx) -> Vec<String> {
        let node = self.network.leaving(parcel, share);
        self.reach_ids(node.map_or_else(Vec::new, |node| self.network.downstream(node)))
    }

    /// Ids of the reaches that carry the water of a structure below its lower end, in order.
    pub fn reach_chain_below(&self, structure: StructureIx) -> Vec<String> {
        let node = self.network.point(self.setting.structures[structure].link.outlet);
        self.reach_ids(node.map_or_else(Vec::new, |node| self.network.downstream(node)))
    }

    fn reach_ids(&self, edges: Vec<Edge>) -> Vec<String> {
        let reach = |edge| match edge {
            Edge::Reach(reach) | Edge::Joins(reach) => Some(self.reaches.list[reach].id.to_string()),
            Edge::Overland | Edge::Structure(_) => None,
        };
        edges.into_iter().filter_map(reach).collect()
    }

    pub fn surveyed_m(&self, cell: Cell) -> Option<f64> {
        let z = self.setting.ground[cell];
        (!z.is_nan()).then(|| fallwright_units::rounded_metres(f64::from(z)))
    }
}
