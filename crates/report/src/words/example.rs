//! Values for the tests of sentences: an invented drain, invented parcels and roads.

use fallwright_case::Road;
use fallwright_law::NamedOutlet;
use fallwright_units::{ParcelId, RoadId};
use geo::MultiPolygon;

pub(super) fn elm_drain() -> NamedOutlet {
    NamedOutlet { feature: "D-07".to_owned(), name: Some("Elm Drain".to_owned()) }
}

pub(super) fn parcels(ids: &[&str]) -> Vec<ParcelId> {
    ids.iter().map(|&id| ParcelId::new(id)).collect()
}

pub(super) fn road(id: &str, name: Option<&str>, authority: Option<&str>) -> Road {
    let [name, authority] = [name, authority].map(|text| text.map(str::to_owned));
    Road { id: RoadId::new(id), name, authority, shape: MultiPolygon::new(Vec::new()) }
}
