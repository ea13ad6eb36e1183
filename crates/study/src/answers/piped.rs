//! Land drained by pipe: how much of each parcel, by which pipe, and the path of its water.

use std::collections::BTreeMap;

use fallwright_law::{Finding, PipedFinding};
use fallwright_network::{End, Party, Path, piped_path};
use fallwright_units::{Hectares, ParcelIx, StructureIx};

use crate::study::Study;

/// Land of a parcel that one pipe drains.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PipedLand {
    pub parcel: ParcelIx,
    pub pipe: StructureIx,
    pub cells: u64,
}

/// The way of a parcel's water by one pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct PipedWay {
    pub pipe: StructureIx,
    pub path: Path,
    /// Whether it may; one for each part that is found alike, at least one.
    pub findings: Vec<PipedFinding>,
}

impl PipedWay {
    /// Of the parcel drained by the pipe.
    pub fn hectares(&self) -> Hectares {
        self.findings.iter().fold(Hectares::ZERO, |sum, found| sum + found.hectares)
    }
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

    /// The ways of a parcel's piped water, in the order of its finding.
    ///
    /// *Complexity*: O(structures) to find each pipe, and O(length of the paths in cells).
    pub fn piped_ways(&self, parcel: ParcelIx, finding: &Finding) -> Vec<PipedWay> {
        let of_pipe = |found: &[PipedFinding]| {
            let (pipe, _) =
                self.setting.structures.iter_enumerated().find(|(_, it)| it.id.as_str() == found[0].pipe)?;
            Some(PipedWay { pipe, path: self.piped_path(parcel, pipe), findings: found.to_vec() })
        };
        finding.piped.chunk_by(|a, b| a.pipe == b.pipe).filter_map(of_pipe).collect()
    }

    /// Where the water of a pipe ends at last.
    pub fn piped_end(&self, pipe: StructureIx) -> Option<End> {
        self.network.point(self.setting.structures[pipe].link.outlet).and_then(|node| self.network.end_of(node))
    }
}
