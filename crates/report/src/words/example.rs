//! Values for the tests of sentences: an invented drain and invented parcels.

use fallwright_law::NamedOutlet;
use fallwright_units::ParcelId;

pub(super) fn elm_drain() -> NamedOutlet {
    NamedOutlet { feature: "D-07".to_owned(), name: Some("Elm Drain".to_owned()) }
}

pub(super) fn parcels(ids: &[&str]) -> Vec<ParcelId> {
    ids.iter().map(|&id| ParcelId::new(id)).collect()
}
