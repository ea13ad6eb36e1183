//! What a parcel owns, receives and drains by pipe, beside its finding.

use std::collections::BTreeMap;

use fallwright_law::Finding;
use fallwright_network::{Contribution, Party, contributing};
use fallwright_units::{ParcelIx, ShareIx};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use super::petition_area::PetitionAreas;
use crate::answers::piped::PipedLand;
use crate::share_cells::ShareCells;
use crate::study::Study;

/// Cells of each field by share: for each share, the fields' positions with their cells.
type FieldCells = BTreeMap<(ParcelIx, ShareIx), BTreeMap<usize, u64>>;

/// Counts of cells by parcel.
pub struct ParcelAccounts {
    fields: FieldCells,
    piped: TiVec<ParcelIx, u64>,
    contributions: BTreeMap<Party, Contribution>,
    /// The areas that a petition could name.
    pub petition_areas: PetitionAreas,
}

impl ParcelAccounts {
    /// *Complexity*: O(n) for n cells.
    pub fn find(study: &Study, findings: &TiSlice<ParcelIx, Finding>) -> Self {
        Self {
            fields: fields_by_share(study),
            piped: piped_by_parcel(study),
            contributions: contributing(&study.setting),
            petition_areas: PetitionAreas::find(study, findings),
        }
    }

    /// Own cells, cells of others that drain through, and whose they are.
    pub fn contribution(&self, parcel: ParcelIx) -> Contribution {
        self.contributions.get(&Party::Parcel(parcel)).cloned().unwrap_or_default()
    }

    /// Cells drained by pipe.
    pub fn piped(&self, parcel: ParcelIx) -> u64 {
        self.piped[parcel]
    }

    /// Cells of a share by the position of their field.
    pub fn fields(&self, parcel: ParcelIx, share: ShareIx) -> Option<&BTreeMap<usize, u64>> {
        self.fields.get(&(parcel, share))
    }
}

fn fields_by_share(study: &Study) -> FieldCells {
    let mut cells = FieldCells::new();
    if study.inputs.fields.is_empty() {
        return cells;
    }
    let shapes: Vec<_> = study.inputs.fields.iter().map(|field| field.shape.clone()).collect();
    let fields = fallwright_land::cover(&study.setting.frame(), &shapes);
    let share_cells = ShareCells::find(&study.setting, &study.shares);
    for cell in study.setting.parties.cells() {
        let Some(field) = fields[cell].checked_sub(1) else { continue };
        let Some(share) = share_cells.of(&study.setting, cell) else { continue };
        if study.inputs.parcels[share.0].id == study.inputs.fields[field as usize].parcel {
            *cells.entry(share).or_default().entry(field as usize).or_default() += 1;
        }
    }
    cells
}

fn piped_by_parcel(study: &Study) -> TiVec<ParcelIx, u64> {
    let mut piped = ti_vec![0; study.inputs.parcels.len()];
    for PipedLand { parcel, cells, .. } in study.piped_lands() {
        piped[parcel] += cells;
    }
    piped
}
