//! Lands as records name them.

use fallwright_law::Land;
use fallwright_network::Party;
use fallwright_study::{Study, WatershedLand};

pub(crate) const ROAD_ID: &str = "road";
pub(crate) const UNOWNED_ID: &str = "unowned";

/// A parcel's id, `road` or `unowned`.
pub(crate) fn party_id(study: &Study, party: Party) -> &str {
    match party {
        Party::Parcel(parcel) => study.inputs.parcels[parcel].id.as_str(),
        Party::Road => ROAD_ID,
        Party::Unowned => UNOWNED_ID,
    }
}

/// A parcel's id, `road` or `unowned`.
pub(crate) fn land_id(land: &Land) -> &str {
    match land {
        Land::Parcel(id) => id.as_str(),
        Land::Road => ROAD_ID,
        Land::Unowned => UNOWNED_ID,
    }
}

/// Id and owner of a land of a watershed.
pub(crate) fn watershed_land<'a>(study: &'a Study, land: &'a WatershedLand) -> (&'a str, Option<&'a str>) {
    match land {
        &WatershedLand::Party(party) => (party_id(study, party), study.party_owner(party)),
        WatershedLand::OnlyInSchedule(id) => (id, None),
    }
}
