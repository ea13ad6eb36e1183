//! Lands: their names in texts.

use fallwright_case::Road;
use fallwright_law::Land;
use fallwright_network::Party;
use fallwright_study::{Study, WatershedLand};
use fallwright_units::{Hectares, ParcelIx};

use super::names::{hectares, list};

/// Land of no parcel and no road, as texts name it.
pub(crate) const NO_PARCEL: &str = "land in no parcel";

/// The shortest name, for lists and drawings: a parcel's id, a road's name, or `land in no parcel`.
pub(crate) fn party_name(study: &Study, party: Party) -> String {
    match party {
        Party::Parcel(parcel) => study.inputs.parcels[parcel].id.to_string(),
        Party::Road(road) => road_name(&study.inputs.roads[road]),
        Party::Unowned => NO_PARCEL.to_owned(),
    }
}

/// A land with its owner or authority: `parcel 012 (Ann Field)`, `Mill Road (County of Thrumbleby)` or `land in no parcel`.
pub(crate) fn party_words(study: &Study, party: Party) -> String {
    match party {
        Party::Parcel(parcel) => parcel_words(study.inputs.parcels[parcel].id.as_str(), study.party_owner(party)),
        Party::Road(road) => road_words(&study.inputs.roads[road]),
        Party::Unowned => NO_PARCEL.to_owned(),
    }
}

fn parcel_words(id: &str, owner: Option<&str>) -> String {
    format!("parcel {id} ({})", owner.unwrap_or("owner not given"))
}

/// `Mill Road`, or `road R-4` where it has no name.
pub(crate) fn road_name(road: &Road) -> String {
    road.name.clone().unwrap_or_else(|| format!("road {}", road.id))
}

/// `Mill Road (County of Thrumbleby)`, the name alone where no authority is given.
pub(crate) fn road_words(road: &Road) -> String {
    let authority = road.authority.as_ref().map_or_else(String::new, |authority| format!(" ({authority})"));
    format!("{}{authority}", road_name(road))
}

/// Whom to ask about a road: `the authority of Mill Road (County of Thrumbleby)`.
pub(crate) fn authority_words(road: &Road) -> String {
    format!("the authority of {}", road_words(road))
}

/// The owner of a parcel as a letter names them: `Ann Field`, or `the owner of parcel 012` where no owner is given.
pub(crate) fn owner_words(study: &Study, parcel: ParcelIx) -> String {
    let party = Party::Parcel(parcel);
    let unnamed = || format!("the owner of parcel {}", study.inputs.parcels[parcel].id);
    study.party_owner(party).map_or_else(unnamed, ToOwned::to_owned)
}

/// Land about which somebody is asked, and how much water that concerns, where it is only a part.
pub(crate) type AskedLand<'a> = (&'a Land, Option<Hectares>);

/// Whom to ask about the way over some lands, each once: `Ann Field (012, 014: 0.20 ha), the owner of parcel 013 and County of
/// Thrumbleby for Mill Road`.
pub(crate) fn whom(study: &Study, lands: &[AskedLand]) -> String {
    let asked = lands.iter().filter_map(|land| asked_about(study, land));
    let mut places: Vec<(Asked, Vec<String>)> = Vec::new();
    for (who, place) in asked {
        match places.iter_mut().find(|(known, _)| *known == who) {
            Some((_, known)) => known.push(place),
            None => places.push((who, vec![place])),
        }
    }
    let names: Vec<String> = places.iter().map(|(who, places)| asked_words(who, places)).collect();
    if names.is_empty() { "the owners on the way".to_owned() } else { list(&names) }
}

/// Who is asked.
#[derive(PartialEq)]
enum Asked {
    Owner(String),
    Authority(String),
    UnknownOwner,
    UnknownAuthority,
}

/// Who is asked about a land, and what that is called.
fn asked_about(study: &Study, (land, part): &AskedLand) -> Option<(Asked, String)> {
    match land {
        Land::Parcel(id) => {
            let owner = study.parcel_position(id.as_str()).and_then(|at| study.party_owner(Party::Parcel(at)));
            Some((
                owner.map_or(Asked::UnknownOwner, |owner| Asked::Owner(owner.replace("; ", " and "))),
                part.map_or_else(|| id.to_string(), |part| format!("{id}: {}", hectares(part))),
            ))
        }
        Land::Road(id) => {
            let road = &study.inputs.roads[study.road_position(id.as_str())?];
            let name = road_name(road);
            Some((
                road.authority.clone().map_or(Asked::UnknownAuthority, Asked::Authority),
                part.map_or_else(|| name.clone(), |part| format!("{name} ({})", hectares(part))),
            ))
        }
        Land::Unowned => None,
    }
}

fn asked_words(who: &Asked, places: &[String]) -> String {
    match (who, places) {
        (Asked::Owner(owner), _) => format!("{owner} ({})", places.join(", ")),
        (Asked::Authority(authority), _) => format!("{authority} for {}", list(places)),
        (Asked::UnknownOwner, [only]) => format!("the owner of parcel {only}"),
        (Asked::UnknownOwner, _) => format!("the owners of parcels {}", list(places)),
        (Asked::UnknownAuthority, _) => format!("the authority of {}", list(places)),
    }
}

/// The shortest name of a land of a watershed.
pub(crate) fn watershed_land_name(study: &Study, land: &WatershedLand) -> String {
    match land {
        &WatershedLand::Party(party) => party_name(study, party),
        WatershedLand::OnlyInSchedule(id) => id.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::example::road;

    #[test]
    fn a_parcel_has_its_id_and_owner() {
        assert_eq!(parcel_words("012", Some("Ann Field")), "parcel 012 (Ann Field)");
        assert_eq!(parcel_words("012", None), "parcel 012 (owner not given)");
    }

    #[test]
    fn who_is_asked_is_named_with_the_lands() {
        let check = |who: Asked, places: &[&str], expected: &str| {
            let places: Vec<String> = places.iter().map(|&place| place.to_owned()).collect();
            assert_eq!(asked_words(&who, &places), expected);
        };
        check(Asked::Owner("Ann Field".to_owned()), &["012", "014"], "Ann Field (012, 014)");
        check(Asked::UnknownOwner, &["012"], "the owner of parcel 012");
        check(Asked::UnknownOwner, &["012", "014"], "the owners of parcels 012 and 014");
        let county = || Asked::Authority("County of Thrumbleby".to_owned());
        check(county(), &["Mill Road"], "County of Thrumbleby for Mill Road");
        check(county(), &["Mill Road", "Ford Road"], "County of Thrumbleby for Mill Road and Ford Road");
        check(Asked::UnknownAuthority, &["road R-4"], "the authority of road R-4");
    }

    #[test]
    fn a_road_has_its_name_or_id_and_its_authority() {
        let check = |name: Option<&str>, authority: Option<&str>, expected: &str| {
            assert_eq!(road_words(&road("R-4", name, authority)), expected);
        };
        check(Some("Mill Road"), Some("County of Thrumbleby"), "Mill Road (County of Thrumbleby)");
        check(Some("Mill Road"), None, "Mill Road");
        check(None, Some("County of Thrumbleby"), "road R-4 (County of Thrumbleby)");
        check(None, None, "road R-4");
        assert_eq!(authority_words(&road("#2", None, None)), "the authority of road #2");
    }
}
