//! Lands: their ids in records and their names in texts.

use fallwright_law::Land;
use fallwright_network::Party;
use fallwright_study::{Study, WatershedLand};
use fallwright_units::ParcelIx;

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

/// Land other than parcels, as texts name it.
pub(crate) const ROAD: &str = "a road";
pub(crate) const NO_PARCEL: &str = "land in no parcel";

/// The shortest name, for lists and drawings: a parcel's id, `a road` or `land in no parcel`.
pub(crate) fn party_name(study: &Study, party: Party) -> &str {
    match party {
        Party::Parcel(_) => party_id(study, party),
        Party::Road => ROAD,
        Party::Unowned => NO_PARCEL,
    }
}

/// A land with its owner: `parcel 012 (Ann Field)`, `a road` or `land in no parcel`.
pub(crate) fn party_words(study: &Study, party: Party) -> String {
    let name = party_name(study, party);
    match party {
        Party::Parcel(_) => parcel_words(name, study.party_owner(party)),
        Party::Road | Party::Unowned => name.to_owned(),
    }
}

fn parcel_words(id: &str, owner: Option<&str>) -> String {
    format!("parcel {id} ({})", owner.unwrap_or("owner not given"))
}

/// The owner of a parcel as a letter names them: `Ann Field`, or `the owner of parcel 012` where no owner is given.
pub(crate) fn owner_words(study: &Study, parcel: ParcelIx) -> String {
    let party = Party::Parcel(parcel);
    let unnamed = || format!("the owner of parcel {}", party_id(study, party));
    study.party_owner(party).map_or_else(unnamed, ToOwned::to_owned)
}

/// The shortest name of a land of a watershed.
pub(crate) fn watershed_land_name<'a>(study: &'a Study, land: &'a WatershedLand) -> &'a str {
    match land {
        &WatershedLand::Party(party) => party_name(study, party),
        WatershedLand::OnlyInSchedule(id) => id,
    }
}

/// Id and owner of a land of a watershed.
pub(crate) fn watershed_land<'a>(study: &'a Study, land: &'a WatershedLand) -> (&'a str, Option<&'a str>) {
    match land {
        &WatershedLand::Party(party) => (party_id(study, party), study.party_owner(party)),
        WatershedLand::OnlyInSchedule(id) => (id, None),
    }
}

#[cfg(test)]
mod tests {
    use fallwright_units::ParcelId;

    use super::*;

    #[test]
    fn a_parcel_has_its_id_and_owner() {
        assert_eq!(parcel_words("012", Some("Ann Field")), "parcel 012 (Ann Field)");
        assert_eq!(parcel_words("012", None), "parcel 012 (owner not given)");
    }

    #[test]
    fn lands_have_their_ids() {
        let check = |land: Land, expected: &str| assert_eq!(land_id(&land), expected);
        check(Land::Parcel(ParcelId::new("012")), "012");
        check(Land::Road, "road");
        check(Land::Unowned, "unowned");
    }
}
