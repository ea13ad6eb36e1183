//! The parcels that water crosses on its way, as records list them.

use fallwright_network::Trace;
use fallwright_study::Study;
use fallwright_units::ParcelIx;

/// Parcels between a parcel and its outlet, itself not among them.
pub(super) fn crossed(study: &Study, parcel: ParcelIx, trace: &Trace) -> Vec<String> {
    let others = trace.parcels_crossed().into_iter().filter(|&other| other != parcel);
    others.map(|other| study.inputs.parcels[other].id.to_string()).collect()
}
