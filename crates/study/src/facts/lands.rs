//! Lands as the law names them.

use fallwright_case::MappedWaterway;
use fallwright_law::Land;
use fallwright_network::Party;
use fallwright_units::ParcelId;
use geo::{BooleanOps, BoundingRect, Euclidean, Intersects, Length, MultiPolygon};

use super::abutting::boundary_accuracy_m;
use crate::study::Study;

pub(super) fn land(study: &Study, party: Party) -> Land {
    match party {
        Party::Parcel(parcel) => Land::Parcel(study.inputs.parcels[parcel].id.clone()),
        Party::Road(road) => Land::Road(study.inputs.roads[road].id.clone()),
        Party::Unowned => Land::Unowned,
    }
}

/// Parcels on which a waterway that is mapped as a line runs for more than the accuracy of boundaries, in their order.
///
/// *Complexity*: O(n) for n parcels, plus the edges of those near it.
pub(super) fn run_over<'a>(study: &'a Study, waterway: &'a MappedWaterway) -> impl Iterator<Item = &'a ParcelId> {
    let bounds = waterway.lines.bounding_rect();
    let is_near = move |shape: &MultiPolygon<f64>| {
        let both = shape.bounding_rect().zip(bounds);
        both.is_some_and(|(parcel, waterway)| parcel.intersects(&waterway))
    };
    let runs_over = move |shape: &MultiPolygon<f64>| {
        is_near(shape) && Euclidean.length(&shape.clip(&waterway.lines, false)) > boundary_accuracy_m(study)
    };
    study.inputs.parcels.iter().filter(move |parcel| runs_over(&parcel.shape)).map(|parcel| &parcel.id)
}
