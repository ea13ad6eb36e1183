//! Lands as the law names them.

use fallwright_law::Land;
use fallwright_network::Party;

use crate::study::Study;

pub(super) fn land(study: &Study, party: Party) -> Land {
    match party {
        Party::Parcel(parcel) => Land::Parcel(study.inputs.parcels[parcel].id.clone()),
        Party::Road(road) => Land::Road(study.inputs.roads[road].id.clone()),
        Party::Unowned => Land::Unowned,
    }
}
