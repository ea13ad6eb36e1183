//! What the network is built from.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use fallwright_terrain::{Conditioned, Flow, Revised};
use fallwright_units::{Cell, CellMap, Frame, Raster, StructureIx, WaterwayId, WaterwayIx, position};
use typed_index_collections::{TiSlice, TiVec};

use crate::channel_owner::channel_owners;
use crate::corner::give_corners;
use crate::{End, Parties, Structure};

/// A mapped open waterway on cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Waterway {
    pub id: WaterwayId,
    pub class: String,
    /// Whether its class is an outlet that the law recognises, for whoever has a right to it.
    pub lawful: bool,
    /// Consecutive cells, in the direction of flow.
    pub chains: Vec<Vec<Cell>>,
    /// Cells of other waterways' chains along which this one runs in the same channel, each with the waterway whose chain it is.
    pub shares: Vec<(WaterwayIx, Cell)>,
    /// Where it is mapped as a polygon: the connected cells of each of its waters, in the order of their index. No two waterways
    /// have one cell.
    pub waters: Vec<Vec<Cell>>,
    /// Whether it is a lake or a pond, in which water may end.
    pub is_lake: bool,
}

impl Waterway {
    /// A lake, a pond or a wide river that is mapped with its shores.
    pub fn is_polygon(&self) -> bool {
        !self.waters.is_empty()
    }
}

position!(
    /// A water's position among those of all waterways that are mapped as polygons, in their order.
    WaterIx
);

/// A mapped feature that carries water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Feature {
    Waterway(WaterwayIx),
    Structure(StructureIx),
}

/// The terrain, the land and the mapped features together, with look-ups by cell.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Ground as surveyed, metres.
    pub ground: Arc<Raster<f32>>,
    pub conditioned: Arc<Conditioned>,
    /// Where the conditioned terrain is revised.
    revision: Option<Revision>,
    /// Cells draining through each cell.
    pub area: Raster<u32>,
    pub parties: Arc<Parties>,
    pub parcel_count: usize,
    pub waterways: Arc<TiSlice<WaterwayIx, Waterway>>,
    pub structures: Arc<TiSlice<StructureIx, Structure>>,
    look_ups: LookUps,
}

/// Where water ends, and the features by cell.
#[derive(Clone, Debug)]
struct LookUps {
    ends: BTreeMap<Cell, End>,
    waterway_of: CellMap<WaterwayIx>,
    also_of: BTreeMap<Cell, Vec<WaterwayIx>>,
    water_of: CellMap<WaterIx>,
    structure_at: CellMap<StructureIx>,
}

impl LookUps {
    fn find(
        flow: &Flow,
        area: &Raster<u32>,
        waterways: &TiSlice<WaterwayIx, Waterway>,
        structures: &TiSlice<StructureIx, Structure>,
    ) -> Self {
        let mut waterway_of = channel_owners(flow, area, waterways);
        give_corners(flow, area, &mut waterway_of);
        let mut also_of = also_of(flow, waterways, &waterway_of);
        let mut ends = crate::ends(flow);
        let waters = give_waters(area.frame, waterways, &mut waterway_of);
        let is_in_lake = |cell: Cell| {
            waters.contains(cell) && waterway_of.get(cell).is_some_and(|&waterway| waterways[waterway].is_lake)
        };
        for (&cell, end) in &mut ends {
            if *end == End::KeptDepression && is_in_lake(cell) {
                *end = End::ClosedLake;
            }
        }
        also_of.retain(|&cell, _| !waters.contains(cell));
        let mut structure_at = CellMap::new(area.frame.len());
        for (position, structure) in structures.iter_enumerated() {
            structure_at.insert(structure.link.inlet, position);
        }
        Self { ends, waterway_of, also_of, water_of: waters, structure_at }
    }
}

/// Levels and directions in the place of the conditioned ones.
#[derive(Clone, Debug)]
struct Revision {
    /// Metres, before filling.
    enforced: BTreeMap<Cell, f32>,
    /// Metres, filled.
    surface: BTreeMap<Cell, f32>,
    flow: Flow,
}

impl Setting {
    /// Structures must be those of the conditioned flow's links.
    ///
    /// # Panics
    /// More cells than 32 bits count.
    pub fn new(
        ground: Arc<Raster<f32>>,
        conditioned: Conditioned,
        parties: Arc<Parties>,
        parcel_count: usize,
        waterways: TiVec<WaterwayIx, Waterway>,
        structures: TiVec<StructureIx, Structure>,
    ) -> Self {
        let area = fallwright_terrain::accumulation_u32(&conditioned.flow);
        let look_ups = LookUps::find(&conditioned.flow, &area, &waterways, &structures);
        Self {
            ground,
            conditioned: Arc::new(conditioned),
            revision: None,
            area,
            parties,
            parcel_count,
            waterways: waterways.into_boxed_slice().into(),
            structures: structures.into_boxed_slice().into(),
            look_ups,
        }
    }

    /// The same land and features on revised terrain; what is not revised is shared. It takes 5 bytes a cell: directions and
    /// the cells draining through each cell.
    #[must_use]
    pub fn revised(&self, Revised { enforced, surface, direction }: Revised) -> Self {
        let mut flow = self.flow().clone();
        for (cell, code) in direction {
            flow.direction[cell] = code;
        }
        let area = fallwright_terrain::accumulation_u32(&flow);
        let look_ups = LookUps::find(&flow, &area, &self.waterways, &self.structures);
        Self {
            ground: Arc::clone(&self.ground),
            conditioned: Arc::clone(&self.conditioned),
            revision: Some(Revision { enforced, surface, flow }),
            area,
            parties: Arc::clone(&self.parties),
            parcel_count: self.parcel_count,
            waterways: Arc::clone(&self.waterways),
            structures: Arc::clone(&self.structures),
            look_ups,
        }
    }

    /// Where every cell's water goes next.
    pub fn flow(&self) -> &Flow {
        self.revision.as_ref().map_or(&self.conditioned.flow, |revision| &revision.flow)
    }

    /// How deep a cell was filled, metres.
    pub fn filled_m(&self, cell: Cell) -> f64 {
        let level = |revised: fn(&Revision) -> &BTreeMap<Cell, f32>, conditioned: &Raster<f32>| {
            let revised = self.revision.as_ref().and_then(|revision| revised(revision).get(&cell).copied());
            f64::from(revised.unwrap_or(conditioned[cell]))
        };
        level(|revision| &revision.surface, &self.conditioned.surface)
            - level(|revision| &revision.enforced, &self.conditioned.enforced)
    }

    /// Cells draining through a cell.
    pub fn area(&self, cell: Cell) -> u64 {
        self.area[cell].into()
    }

    pub fn frame(&self) -> Frame {
        self.ground.frame
    }

    /// Where water ends, by cell.
    pub fn ends(&self) -> &BTreeMap<Cell, End> {
        &self.look_ups.ends
    }

    /// The mapped waterway whose channel a cell is part of.
    #[inline]
    pub fn waterway_of(&self, cell: Cell) -> Option<WaterwayIx> {
        self.look_ups.waterway_of.get(cell).copied()
    }

    /// The water that a cell is part of, where it lies in a polygon.
    pub fn water_of(&self, cell: Cell) -> Option<WaterIx> {
        self.look_ups.water_of.get(cell).copied()
    }

    /// The cells that are part of a mapped waterway's channel, in the order of their index.
    pub fn channel_cells(&self) -> impl Iterator<Item = Cell> + '_ {
        self.look_ups.waterway_of.cells()
    }

    /// Other mapped waterways that run in the same channel there, in the order of the list.
    pub fn also_at(&self, cell: Cell) -> &[WaterwayIx] {
        self.look_ups.also_of.get(&cell).map_or(&[], Vec::as_slice)
    }

    /// The structure that takes in all water of a cell.
    pub fn structure_at(&self, cell: Cell) -> Option<StructureIx> {
        self.look_ups.structure_at.get(cell).copied()
    }

    /// The waterways in whose channel a cell lies: the one whose channel it is, then the others that run in it.
    pub fn waterways_at(&self, cell: Cell) -> impl Iterator<Item = WaterwayIx> + '_ {
        self.waterway_of(cell).into_iter().chain(self.also_at(cell).iter().copied())
    }

    /// The lawful outlet that water reaches in this cell: the first lawful waterway in its channel, or the structure that it
    /// enters or comes to from there without coming to the surface.
    #[inline]
    pub fn lawful_at(&self, cell: Cell) -> Option<Feature> {
        let waterway = self.waterways_at(cell).find(|&position| self.waterways[position].lawful);
        let structure = || self.structure_at(cell).and_then(|position| self.lawful_inside(position));
        waterway.map(Feature::Waterway).or_else(|| structure().map(Feature::Structure))
    }

    pub fn feature_id(&self, feature: Feature) -> &str {
        match feature {
            Feature::Waterway(position) => self.waterways[position].id.as_str(),
            Feature::Structure(position) => self.structures[position].id.as_str(),
        }
    }

    pub fn feature_class(&self, feature: Feature) -> Option<&str> {
        match feature {
            Feature::Waterway(position) => Some(&self.waterways[position].class),
            Feature::Structure(position) => self.structures[position].class.as_deref(),
        }
    }
}

/// Which waterways run in another one's channel, by cell. Where that one's chain ends in a third one's channel, or crosses it,
/// the cell is the third one's, and those that run along the chain do not run there. Cells that a waterway was given besides
/// its own chains are as the chain that they lead to.
fn also_of(
    flow: &Flow,
    waterways: &TiSlice<WaterwayIx, Waterway>,
    waterway_of: &CellMap<WaterwayIx>,
) -> BTreeMap<Cell, Vec<WaterwayIx>> {
    let mut also: BTreeMap<Cell, Vec<WaterwayIx>> = BTreeMap::new();
    for (position, waterway) in waterways.iter_enumerated() {
        for &(with, cell) in waterway.shares.iter().filter(|(with, cell)| waterway_of.get(*cell) == Some(with)) {
            debug_assert_ne!(with, position);
            also.entry(cell).or_default().push(position);
        }
    }
    also.values_mut().for_each(Vec::dedup);
    if also.is_empty() {
        return also;
    }
    let chained = |(position, waterway): (WaterwayIx, &Waterway)| {
        waterway.chains.iter().flatten().map(move |&cell| (cell, position)).collect::<Vec<_>>()
    };
    let of_chains: BTreeSet<(Cell, WaterwayIx)> = waterways.iter_enumerated().flat_map(chained).collect();
    for cell in waterway_of.cells() {
        let owner = waterway_of.get(cell).copied();
        let in_chain = |on: Cell| owner.is_some_and(|owner| of_chains.contains(&(on, owner)));
        if !in_chain(cell) {
            let chain =
                flow.path(cell).take_while(|&on| waterway_of.get(on).copied() == owner).find(|&on| in_chain(on));
            match chain.and_then(|on| also.get(&on)).cloned() {
                Some(positions) => drop(also.insert(cell, positions)),
                None => drop(also.remove(&cell)),
            }
        }
    }
    also
}

/// Gives the cells in polygons to their waterways, whatever lines run through them, and numbers the waters.
fn give_waters(
    frame: Frame,
    waterways: &TiSlice<WaterwayIx, Waterway>,
    waterway_of: &mut CellMap<WaterwayIx>,
) -> CellMap<WaterIx> {
    let mut water_of = CellMap::new(frame.len());
    let waters = waterways
        .iter_enumerated()
        .flat_map(|(position, waterway)| waterway.waters.iter().map(move |cells| (position, cells)));
    for (number, (waterway, cells)) in waters.enumerate() {
        for &cell in cells {
            waterway_of.insert(cell, waterway);
            water_of.insert(cell, WaterIx(number));
        }
    }
    water_of
}

#[cfg(test)]
mod tests {
    use fallwright_terrain::{Conditioning, condition};

    use super::*;
    use crate::{Destination, Destinations, Party};

    /// Cells of chains as pairs of column and row.
    type Chain = &'static [(usize, usize)];

    /// Whether it is lawful, its chain, and the cells of others' chains in which it runs.
    type Given<'a> = (bool, Chain, &'a [(usize, Chain)]);

    /// Ground falls to the east and to the lower row. Expected is the first outlet of each cell, row by row: the number of the
    /// waterway, or a point for none.
    fn check(waterways: &[Given], expected: [&str; 2]) {
        let frame = Frame::new(6, 2, (0.0, 0.0), (1.0, 1.0)).unwrap();
        let cells = |chain: Chain| chain.iter().map(|&(col, row)| frame.cell(col, row)).collect::<Vec<_>>();
        let shared =
            |&(with, chain): &(usize, Chain)| cells(chain).into_iter().map(move |cell| (WaterwayIx(with), cell));
        let waterway = |(number, &(lawful, chain, shares)): (usize, &Given)| Waterway {
            id: WaterwayId::new(format!("W{number}")),
            class: "x".into(),
            lawful,
            chains: [cells(chain)].into_iter().filter(|chain| !chain.is_empty()).collect(),
            shares: shares.iter().flat_map(shared).collect(),
            waters: Vec::new(),
            is_lake: false,
        };
        let waterways: TiVec<WaterwayIx, Waterway> = waterways.iter().enumerate().map(waterway).collect();
        let level = |cell: usize| 20.0 - (cell % 6) as f32 - if cell < 6 { 0.0 } else { 2.0 };
        let ground = Raster { frame, values: (0..12).map(level).collect() };
        let channels = waterways.iter().flat_map(|waterway| waterway.chains.clone()).collect();
        let conditioned = condition(&ground, Conditioning { channels, ..Conditioning::default() }).unwrap();
        let parties = Parties::new([Party::Unowned; 12]);
        let setting = Setting::new(ground.into(), conditioned, parties.into(), 0, waterways, TiVec::new());
        let destinations = Destinations::find(&setting);
        let found = |cell| match destinations.of(cell) {
            Some(Destination::Outlet(Feature::Waterway(position))) => usize::from(position).to_string(),
            _ => ".".to_owned(),
        };
        let rows = [0, 1].map(|row| (0..6).map(|col| found(frame.cell(col, row))).collect::<String>());
        assert_eq!(rows, expected);
    }

    const ALONG: Chain = &[(0, 1), (1, 1), (2, 1), (3, 1), (4, 1), (5, 1)];

    #[test]
    fn a_lawful_waterway_in_an_unlawful_ones_channel_is_an_outlet() {
        check(&[(false, ALONG, &[])], ["......", "......"]);
        check(&[(false, ALONG, &[]), (true, &[], &[(0, &ALONG[3..5])])], ["11111.", "11111."]);
        check(&[(false, ALONG, &[]), (false, &[], &[(0, ALONG)]), (true, &[], &[(0, ALONG)])], ["222222"; 2]);
        check(&[(false, ALONG, &[]), (true, &[], &[(0, ALONG)]), (true, &[], &[(0, ALONG)])], ["111111"; 2]);
        check(&[(true, ALONG, &[]), (true, &[], &[(0, ALONG)])], ["000000"; 2]);
    }

    const INTO_IT: Chain = &[(0, 0), (1, 0), (2, 0), (3, 1)];

    /// The upper waterway ends in the channel of the lower one.
    #[test]
    fn what_runs_along_a_waterway_ends_where_that_ends_in_another_channel() {
        let lower: Given = (false, ALONG, &[]);
        check(&[lower, (true, INTO_IT, &[])], ["111...", "......"]);
        check(&[lower, (true, INTO_IT, &[]), (true, &[], &[(1, INTO_IT)])], ["111...", "......"]);
        check(&[lower, (false, INTO_IT, &[]), (true, &[], &[(1, INTO_IT)])], ["222...", "......"]);
        // It goes on along the lower one.
        let goes_on: Given = (true, &[], &[(1, INTO_IT), (0, &ALONG[3..5])]);
        check(&[lower, (false, INTO_IT, &[]), goes_on], ["22222.", "22222."]);
    }
}
