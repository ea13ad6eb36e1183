//! Land drained by pipe: how much of each parcel, by which pipe, and the path of its water.

use std::collections::BTreeMap;

use fallwright_network::{End, Party, Path, piped_path};
use fallwright_units::{ParcelIx, StructureIx};

use crate::Study;

/// Land of a parcel that one pipe drains.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PipedLand {
    pub parcel: ParcelIx,
    pub pipe: StructureIx,
    pub cells: u64,
}

impl Study {
    /// All land of parcels that is drained by pipe, by parcel, then by pipe.
    ///
    /// *Complexity*: O(n) for n cells; constant where nothing is drained by pipe.
    pub fn piped_lands(&self) -> Vec<PipedLand> {
        if self.tiled_by_structure.iter().all(|&cells| cells == 0) {
            return Vec::new();
        }
        let mut cells: BTreeMap<(ParcelIx, StructureIx), u64> = BTreeMap::new();
        for cell in self.setting.parties.cells() {
            if let (Some(pipe), Party::Parcel(parcel)) = (self.drained_to(cell), self.setting.parties.of(cell)) {
                *cells.entry((parcel, pipe)).or_default() += 1;
            }
        }
        cells.into_iter().map(|((parcel, pipe), cells)| PipedLand { parcel, pipe, cells }).collect()
    }

    /// The path of a parcel's water by a pipe, from where the pipe takes it: see [`fallwright_network::piped_path`].
    ///
    /// *Complexity*: O(length of the path in cells).
    pub fn piped_path(&self, parcel: ParcelIx, pipe: StructureIx) -> Path {
        piped_path(&self.setting, Party::Parcel(parcel), pipe)
    }

    /// Where the water of a pipe ends at last.
    pub fn piped_end(&self, pipe: StructureIx) -> Option<End> {
        self.network.point(self.setting.structures[pipe].link.outlet).and_then(|node| self.network.end_of(node))
    }
}
