//! Which share of which parcel each cell's water belongs to.

use fallwright_network::{Party, Setting, Share};
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, ParcelIx, Raster, ShareIx};
use typed_index_collections::{TiSlice, TiVec};

pub(crate) struct ShareCells {
    keys: Vec<(ParcelIx, ShareIx)>,
    /// For each cell its share, 1 for the first; cells of other parties whose water passes have it too.
    labels: Raster<u32>,
}

impl ShareCells {
    /// `shares` are those of each parcel.
    pub(crate) fn find(setting: &Setting, shares: &TiSlice<ParcelIx, TiVec<ShareIx, Share>>) -> Self {
        let mut keys = Vec::new();
        let mut stops = Raster::filled(setting.frame(), 0_u32);
        for (parcel, shares) in shares.iter_enumerated() {
            for (number, share) in shares.iter_enumerated() {
                keys.push((parcel, number));
                for &exit in &share.exits {
                    stops[exit] = keys.len() as u32;
                }
            }
        }
        Self { keys, labels: label_upstream(setting.flow(), stops) }
    }

    /// Parcel and position of the share, for cells of that parcel.
    pub(crate) fn of(&self, setting: &Setting, cell: Cell) -> Option<(ParcelIx, ShareIx)> {
        let key = self.keys[(self.labels[cell] as usize).checked_sub(1)?];
        (setting.parties.of(cell) == Party::Parcel(key.0)).then_some(key)
    }
}
