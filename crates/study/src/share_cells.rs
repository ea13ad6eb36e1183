//! Which share of which parcel each cell's water belongs to.

use fallwright_network::{Party, Setting, Share};
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};

pub(crate) struct ShareCells {
    keys: Vec<(usize, usize)>,
    /// For each cell its share, 1 for the first; cells of other parties whose water passes have it too.
    labels: Raster<u32>,
}

impl ShareCells {
    /// `shares` are those of each parcel.
    pub(crate) fn find(setting: &Setting, shares: &[Vec<Share>]) -> Self {
        let mut keys = Vec::new();
        let mut stops = Raster::filled(setting.frame(), 0_u32);
        for (parcel, shares) in shares.iter().enumerate() {
            for (number, share) in shares.iter().enumerate() {
                keys.push((parcel, number));
                for &exit in &share.exits {
                    stops[exit] = keys.len() as u32;
                }
            }
        }
        Self { keys, labels: label_upstream(setting.flow(), stops) }
    }

    /// Parcel and position of the share, for cells of that parcel.
    pub(crate) fn of(&self, setting: &Setting, cell: Cell) -> Option<(usize, usize)> {
        let key = self.keys[(self.labels[cell] as usize).checked_sub(1)?];
        (setting.parties.of(cell) == Party::Parcel(key.0)).then_some(key)
    }
}
