//! Where the water of each cell goes.

use std::collections::BTreeMap;

use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};

use crate::{End, Feature, Setting};

/// Where water goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Destination {
    /// The first lawful outlet downstream.
    Outlet(Feature),
    /// No lawful outlet; where the path ends instead.
    End(End),
}

/// The destination of every cell.
#[derive(Clone, Debug)]
pub struct Destinations {
    all: Vec<Destination>,
    /// For each cell its destination, 1 for the first; 0 without elevation.
    number: Raster<u32>,
}

impl Destinations {
    /// *Complexity*: O(n) for n cells.
    pub fn find(setting: &Setting) -> Self {
        let mut all: Vec<Destination> = Vec::new();
        let mut number: BTreeMap<Destination, u32> = BTreeMap::new();
        let mut labels = Raster::filled(setting.frame(), 0_u32);
        let has_data = |cell: &Cell| setting.flow().has_data(*cell);
        let ends = setting.ends().iter().map(|(&cell, &end)| (cell, Destination::End(end)));
        let mapped = setting.channel_cells().chain(setting.structures.iter().map(|s| s.link.inlet)).filter(has_data);
        let outlets = mapped.filter_map(|cell| Some((cell, Destination::Outlet(setting.lawful_at(cell)?))));
        for (cell, destination) in ends.chain(outlets) {
            labels[cell] = *number.entry(destination).or_insert_with(|| {
                all.push(destination);
                all.len() as u32
            });
        }
        Self { all, number: label_upstream(setting.flow(), labels) }
    }

    /// `None` without elevation.
    pub fn of(&self, cell: Cell) -> Option<Destination> {
        (self.number[cell] as usize).checked_sub(1).map(|position| self.all[position])
    }

    pub(crate) fn differ(&self, a: Cell, b: Cell) -> bool {
        self.number[a] != self.number[b]
    }
}
