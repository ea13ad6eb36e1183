//! Which parcels belong to one owner.

use std::collections::BTreeMap;

use fallwright_units::{ParcelId, ParcelIx};
use typed_index_collections::TiVec;

use crate::study::Study;

/// Which parcels belong together, by the name of their owner. A parcel without a named owner belongs to no other.
pub(super) struct Holdings {
    /// A number for the owner of each parcel: the position of the first of his parcels.
    pub(super) of_parcel: TiVec<ParcelIx, usize>,
    /// Where an owner has more than one.
    parcels: BTreeMap<usize, Vec<ParcelIx>>,
}

impl Holdings {
    pub(super) fn of(study: &Study) -> Self {
        let mut first: BTreeMap<&str, usize> = BTreeMap::new();
        let mut parcels: BTreeMap<usize, Vec<ParcelIx>> = BTreeMap::new();
        let mut of_parcel = TiVec::with_capacity(study.inputs.parcels.len());
        for (position, parcel) in study.inputs.parcels.iter_enumerated() {
            let own = usize::from(position);
            let holding = parcel.owner.as_deref().map_or(own, |owner| *first.entry(owner).or_insert(own));
            parcels.entry(holding).or_default().push(position);
            of_parcel.push(holding);
        }
        parcels.retain(|_, held| held.len() > 1);
        Self { of_parcel, parcels }
    }

    pub(super) fn are_one(&self, a: ParcelIx, b: ParcelIx) -> bool {
        self.of_parcel[a] == self.of_parcel[b]
    }

    /// Other parcels of the same owner.
    pub(super) fn others(&self, study: &Study, parcel: ParcelIx) -> Vec<ParcelId> {
        let held = self.parcels.get(&self.of_parcel[parcel]).into_iter().flatten();
        held.filter(|&&other| other != parcel).map(|&other| study.inputs.parcels[other].id.clone()).collect()
    }
}
