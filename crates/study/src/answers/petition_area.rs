//! The area that a petition could name: a real basin, and in it the land that has the problem.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_law::{Finding, ShareStanding, Way, WayKind};
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, ParcelIx, Raster, ShareIx};
use typed_index_collections::TiSlice;

use crate::study::Study;

/// The basins of the shares without a right, by the cell at which their water comes to its outlet or end.
pub struct PetitionAreas {
    basins: BTreeMap<Cell, Basin>,
}

/// The area that a petition could name.
pub struct PetitionArea {
    /// The parcels with their hectares that have no right.
    pub without_right: BTreeMap<ParcelIx, f64>,
    /// All land of the basins, cells.
    pub basin_cells: u64,
}

#[derive(Default)]
struct Basin {
    /// Hectares without a right, by parcel.
    without_right: BTreeMap<ParcelIx, f64>,
    /// Where the shares leave.
    exits: Vec<Cell>,
    /// All cells whose water comes through an exit of the shares or to the same place.
    cells: u64,
}

impl PetitionAreas {
    /// *Complexity*: O(n) for n cells.
    pub fn find(study: &Study, findings: &TiSlice<ParcelIx, Finding>) -> Self {
        let mut basins: BTreeMap<Cell, Basin> = BTreeMap::new();
        for (parcel, finding) in findings.iter_enumerated() {
            for share in finding.shares.iter().filter(|share| share.standing == ShareStanding::Acquire) {
                let basin = basins.entry(entry(study, parcel, share.leaving_point)).or_default();
                *basin.without_right.entry(parcel).or_default() += share.hectares.hectares();
                basin.exits.extend(&study.shares[parcel][share.leaving_point].exits);
            }
        }
        count_cells(study, &mut basins);
        Self { basins }
    }

    /// For a petition: the parcels whose water comes to the outlet at the same places as that of the shares it serves, with
    /// their hectares that have no right; and all land of these basins. None for a petition that serves piped water alone.
    pub fn of(&self, study: &Study, parcel: ParcelIx, way: &Way) -> Option<PetitionArea> {
        if way.way != WayKind::Petition || way.shares.is_empty() {
            return None;
        }
        let places: BTreeSet<Cell> =
            way.shares.iter().filter_map(|&number| Some(entry(study, parcel, ShareIx::from_number(number)?))).collect();
        let basins = || places.iter().filter_map(|place| self.basins.get(place));
        let mut without_right: BTreeMap<ParcelIx, f64> = BTreeMap::new();
        for (&parcel, &area) in basins().flat_map(|basin| &basin.without_right) {
            *without_right.entry(parcel).or_default() += area;
        }
        Some(PetitionArea { basin_cells: basins().map(|basin| basin.cells).sum(), without_right })
    }
}

/// The last cell on a share's path before its outlet, or where it ends.
fn entry(study: &Study, parcel: ParcelIx, share: ShareIx) -> Cell {
    study.courses.before_outlet(parcel, share)
}

/// Each cell counts for the basin to which its path comes first; none above a lawful outlet that it passes before.
fn count_cells(study: &Study, basins: &mut BTreeMap<Cell, Basin>) {
    const OUTLET: u32 = 1;
    let setting = &study.setting;
    let mut labels = Raster::filled(setting.frame(), 0_u32);
    let inlets = setting.structures.iter().map(|structure| structure.link.inlet);
    for cell in setting.channel_cells().chain(inlets).filter(|&cell| setting.lawful_at(cell).is_some()) {
        labels[cell] = OUTLET;
    }
    for (label, (&place, basin)) in (OUTLET + 1..).zip(basins.iter()) {
        let place = Some(place).filter(|&place| setting.lawful_at(place).is_none());
        for cell in basin.exits.iter().copied().chain(place) {
            labels[cell] = label;
        }
    }
    let mut cells = vec![0_u64; basins.len() + 2];
    for label in label_upstream(setting.flow(), labels).values {
        cells[label as usize] += 1;
    }
    for (basin, cells) in basins.values_mut().zip(&cells[2..]) {
        basin.cells = *cells;
    }
}
