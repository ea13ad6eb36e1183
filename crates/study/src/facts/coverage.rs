//! How much of each parcel the elevation covers.

use fallwright_network::Party;
use fallwright_units::{ParcelIx, SQUARE_METRES_PER_HECTARE};
use geo::{Area, BoundingRect};
use typed_index_collections::{TiVec, ti_vec};

use crate::study::Study;

/// Cells of a parcel, with and without elevation.
#[derive(Clone, Copy, Default)]
pub(super) struct Coverage {
    pub(super) with_data: u64,
    pub(super) without_data: u64,
}

pub(super) fn coverage(study: &Study) -> TiVec<ParcelIx, Coverage> {
    let mut coverage = ti_vec![Coverage::default(); study.inputs.parcels.len()];
    for cell in study.setting.parties.cells() {
        if let Party::Parcel(parcel) = study.setting.parties.of(cell) {
            if study.setting.flow().has_data(cell) {
                coverage[parcel].with_data += 1;
            } else {
                coverage[parcel].without_data += 1;
            }
        }
    }
    coverage
}

/// Hectares of every parcel without elevation, in their order.
pub(crate) fn missing_hectares(study: &Study) -> TiVec<ParcelIx, f64> {
    coverage(study).into_iter_enumerated().map(|(parcel, coverage)| missing_ha(study, parcel, coverage)).collect()
}

pub(super) fn missing_ha(study: &Study, parcel: ParcelIx, coverage: Coverage) -> f64 {
    let frame = study.setting.frame();
    let area_ha = study.inputs.parcels[parcel].shape.unsigned_area() / SQUARE_METRES_PER_HECTARE;
    let covered = frame.hectares(coverage.with_data + coverage.without_data);
    let beyond_ha = if reaches_beyond(study, parcel) { (area_ha - covered).max(0.0) } else { 0.0 };
    frame.hectares(coverage.without_data) + beyond_ha
}

/// Whether a parcel reaches beyond the raster.
pub(super) fn reaches_beyond(study: &Study, parcel: ParcelIx) -> bool {
    let frame = study.setting.frame();
    study.inputs.parcels[parcel].shape.bounding_rect().is_some_and(|bounds| {
        bounds.min().x < frame.west()
            || bounds.max().x > frame.east()
            || bounds.min().y < frame.south()
            || bounds.max().y > frame.north()
    })
}
