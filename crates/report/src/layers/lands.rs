//! Lands as records name them.

use fallwright_case::Road;
use fallwright_law::Land;
use fallwright_network::Party;
use fallwright_study::Study;

use crate::records::land::LandItem;

const PARCEL: &str = "parcel";
const ROAD: &str = "road";
const UNOWNED: &str = "unowned";

pub(crate) fn land_item(study: &Study, party: Party) -> LandItem {
    match party {
        Party::Parcel(parcel) => parcel_item(study.inputs.parcels[parcel].id.as_str()),
        Party::Road(road) => road_item(&study.inputs.roads[road]),
        Party::Unowned => LandItem { kind: UNOWNED, id: None, name: None, authority: None },
    }
}

/// The same of a land as the law names it.
pub(crate) fn item_of_land(study: &Study, land: &Land) -> LandItem {
    match land {
        Land::Parcel(id) => parcel_item(id.as_str()),
        Land::Road(id) => {
            let road = study.road_position(id.as_str()).expect("the law names roads of the case");
            land_item(study, Party::Road(road))
        }
        Land::Unowned => land_item(study, Party::Unowned),
    }
}

/// The land that an item of the case's own records names.
pub(crate) fn party_of(study: &Study, item: &LandItem) -> Party {
    let id = item.id.as_deref().unwrap_or_default();
    let party = match item.kind {
        PARCEL => study.parcel_position(id).map(Party::Parcel),
        ROAD => study.road_position(id).map(Party::Road),
        _ => None,
    };
    party.unwrap_or(Party::Unowned)
}

fn parcel_item(id: &str) -> LandItem {
    LandItem { kind: PARCEL, id: Some(id.to_owned()), name: None, authority: None }
}

fn road_item(Road { id, name, authority, .. }: &Road) -> LandItem {
    LandItem { kind: ROAD, id: Some(id.to_string()), name: name.clone(), authority: authority.clone() }
}

#[cfg(test)]
mod tests {
    use fallwright_units::RoadId;
    use geo::MultiPolygon;
    use serde_json::{Value, json};

    use super::*;

    fn check(item: &LandItem, expected: &Value) {
        assert_eq!(serde_json::to_value(item).unwrap(), *expected);
    }

    #[test]
    fn no_id_is_taken_for_a_kind() {
        check(&parcel_item("road"), &json!({ "kind": "parcel", "id": "road" }));
        check(&parcel_item("unowned"), &json!({ "kind": "parcel", "id": "unowned" }));
    }

    #[test]
    fn a_road_has_what_is_given_of_it() {
        let road = |name: Option<&str>, authority: Option<&str>| {
            let [name, authority] = [name, authority].map(|text| text.map(str::to_owned));
            road_item(&Road { id: RoadId::new("7"), name, authority, shape: MultiPolygon::new(vec![]) })
        };
        check(&road(None, None), &json!({ "kind": "road", "id": "7" }));
        check(
            &road(Some("Mill Road"), Some("County of Thrumbleby")),
            &json!({ "kind": "road", "id": "7", "name": "Mill Road", "authority": "County of Thrumbleby" }),
        );
    }
}
