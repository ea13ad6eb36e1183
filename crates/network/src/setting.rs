//! What the network is built from.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use fallwright_terrain::{Conditioned, Flow, Link};
use fallwright_units::{Cell, CellMap, Frame, LinkId, Raster, WaterwayId};

use crate::corner::give_corners;
use crate::{End, Parties};

/// A mapped open waterway on cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Waterway {
    pub id: WaterwayId,
    pub class: String,
    /// Whether its class is an outlet that the law recognises, for whoever has a right to it.
    pub lawful: bool,
    /// Consecutive cells, in the direction of flow.
    pub chains: Vec<Vec<Cell>>,
    /// Cells of other waterways' chains along which this one runs in the same channel.
    pub shares: Vec<Cell>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum StructureKind {
    Culvert,
    Pipe,
}

/// A mapped culvert, pipe or tile main on cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Structure {
    pub id: LinkId,
    pub kind: StructureKind,
    pub class: Option<String>,
    pub lawful: bool,
    pub link: Link,
}

/// A mapped feature that carries water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Feature {
    /// Position in the list of waterways.
    Waterway(usize),
    /// Position in the list of structures.
    Structure(usize),
}

/// The terrain, the land and the mapped features together, with look-ups by cell.
#[derive(Clone, Debug)]
pub struct Setting {
    /// Ground as surveyed, metres.
    pub ground: Arc<Raster<f32>>,
    pub conditioned: Conditioned,
    /// Cells draining through each cell.
    pub area: Raster<u32>,
    pub parties: Arc<Parties>,
    pub parcel_count: usize,
    pub waterways: Vec<Waterway>,
    pub structures: Vec<Structure>,
    /// Where water ends, by cell.
    pub ends: BTreeMap<Cell, End>,
    waterway_of: CellMap<usize>,
    also_of: BTreeMap<Cell, Vec<usize>>,
    structure_at: CellMap<usize>,
}

impl Setting {
    /// Structures must be those of the conditioned flow's links. Ground and parties are shared with other settings on the same
    /// land.
    ///
    /// # Panics
    /// More cells than 32 bits count.
    pub fn new(
        ground: Arc<Raster<f32>>,
        conditioned: Conditioned,
        parties: Arc<Parties>,
        parcel_count: usize,
        waterways: Vec<Waterway>,
        structures: Vec<Structure>,
    ) -> Self {
        let area = fallwright_terrain::accumulation_u32(&conditioned.flow);
        let ends = crate::ends(&conditioned.flow);
        let mut waterway_of = waterway_of(ground.frame, &waterways);
        give_corners(&conditioned.flow, &area, &mut waterway_of);
        let also_of = also_of(&conditioned.flow, &waterways, &waterway_of);
        let mut structure_at = CellMap::new(ground.frame.len());
        for (position, structure) in structures.iter().enumerate() {
            structure_at.insert(structure.link.inlet, position);
        }
        Self {
            ground,
            conditioned,
            area,
            parties,
            parcel_count,
            waterways,
            structures,
            ends,
            waterway_of,
            also_of,
            structure_at,
        }
    }

    /// Cells draining through a cell.
    pub fn area(&self, cell: Cell) -> u64 {
        self.area[cell].into()
    }

    pub fn frame(&self) -> Frame {
        self.ground.frame
    }

    /// The mapped waterway whose channel a cell is part of.
    pub fn waterway_of(&self, cell: Cell) -> Option<usize> {
        self.waterway_of.get(cell).copied()
    }

    /// The cells that are part of a mapped waterway's channel, in the order of their index.
    pub fn channel_cells(&self) -> impl Iterator<Item = Cell> + '_ {
        self.waterway_of.cells()
    }

    /// Other mapped waterways that run in the same channel there, in the order of the list.
    pub fn also_at(&self, cell: Cell) -> &[usize] {
        self.also_of.get(&cell).map_or(&[], Vec::as_slice)
    }

    /// The structure that takes in all water of a cell.
    pub fn structure_at(&self, cell: Cell) -> Option<usize> {
        self.structure_at.get(cell).copied()
    }

    /// The lawful outlet that water reaches in this cell: the waterway whose channel it is, or the structure it enters.
    pub fn lawful_at(&self, cell: Cell) -> Option<Feature> {
        let waterway = self.waterway_of(cell).filter(|&position| self.waterways[position].lawful);
        let structure = || self.structure_at(cell).filter(|&position| self.structures[position].lawful);
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

/// Which waterways run in another one's channel, by cell. Cells that the other was given besides its own chains are as the
/// chain that they lead to.
fn also_of(flow: &Flow, waterways: &[Waterway], waterway_of: &CellMap<usize>) -> BTreeMap<Cell, Vec<usize>> {
    let mut also: BTreeMap<Cell, Vec<usize>> = BTreeMap::new();
    for (position, waterway) in waterways.iter().enumerate() {
        let of_another = |cell: &&Cell| waterway_of.get(**cell).is_some_and(|&owner| owner != position);
        for &cell in waterway.shares.iter().filter(of_another) {
            also.entry(cell).or_default().push(position);
        }
    }
    also.values_mut().for_each(Vec::dedup);
    if also.is_empty() {
        return also;
    }
    let chained = |(position, waterway): (usize, &Waterway)| {
        waterway.chains.iter().flatten().map(move |&cell| (cell, position)).collect::<Vec<_>>()
    };
    let of_chains: BTreeSet<(Cell, usize)> = waterways.iter().enumerate().flat_map(chained).collect();
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

/// Where several waterways share a cell it goes to the one that runs on rather than the one that ends there, then to the
/// lawful one, then to the first in the list.
fn waterway_of(frame: Frame, waterways: &[Waterway]) -> CellMap<usize> {
    let mut claims: Vec<(Cell, (bool, bool, usize))> = Vec::new();
    for (position, waterway) in waterways.iter().enumerate() {
        for chain in &waterway.chains {
            let last = chain.len() - 1;
            let claim = |(along, &cell): (usize, &Cell)| (cell, (along == last, !waterway.lawful, position));
            claims.extend(chain.iter().enumerate().map(claim));
        }
    }
    claims.sort_unstable();
    let mut owner = CellMap::new(frame.len());
    for (cell, (_, _, position)) in claims {
        if !owner.contains(cell) {
            owner.insert(cell, position);
        }
    }
    owner
}
