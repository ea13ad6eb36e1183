//! The steps of a way to acquire an outlet.

use fallwright_case::Road;
use fallwright_law::{Consenting, Land, Profile, Way, WayStep};
use fallwright_study::Study;

use super::constraints::met_words;
use super::lands::{road_name, road_words};
use super::names::{list, list_parcels, outlet_name};

/// Short sentences, in order.
pub fn step_sentences(study: &Study, way: &Way) -> Vec<String> {
    let asked = way.consents.iter().filter_map(|consent| match &consent.who {
        Consenting::Land(Land::Road(id)) => study.road_position(id.as_str()).map(|road| &study.inputs.roads[road]),
        _ => None,
    });
    sentences(way, &asked.collect::<Vec<_>>(), &study.inputs.profile)
}

fn sentences(way: &Way, roads: &[&Road], profile: &Profile) -> Vec<String> {
    let outlet = outlet_name(way.outlet.as_ref());
    let parcels = list_parcels(&way.crossed);
    way.steps.iter().map(|step| sentence(step, (&outlet, &parcels), roads, profile)).collect()
}

fn sentence(step: &WayStep, (outlet, parcels): (&str, &str), roads: &[&Road], profile: &Profile) -> String {
    match step {
        WayStep::OfProfile(sentence) => sentence.replace("{outlet}", outlet).replace("{parcels}", parcels),
        WayStep::AskParties => format!("Ask the parties of {outlet} to take the parcel in."),
        WayStep::AskRoadAuthority => {
            let them = if let [_] = roads { "that road" } else { "these roads" };
            format!("Ask {} to agree: the water crosses {them} on the way.", authorities(roads))
        }
        WayStep::RoadAuthorityMustAgreeToo => {
            let names: Vec<String> = roads.iter().map(|road| road_name(road)).collect();
            format!("The water crosses {} on the way: {} must agree too.", list(&names), authorities(roads))
        }
        WayStep::AgreeOnWayToDitch => {
            format!("Agree with the owners of {parcels}, who lie between the parcel and the ditch.")
        }
        WayStep::MunicipalityMustAssess(drain) => format!(
            "The way ends in {}: the municipality must agree, and assess the land into it.",
            outlet_name(Some(drain))
        ),
        WayStep::AskAboutConstraints { who, met } => {
            format!("Works along the path would meet {}: ask {who}.", met_words(profile, met))
        }
    }
}

/// `the authority of Mill Road (County of Thrumbleby)`, `the authorities of Mill Road and road R-4`.
fn authorities(roads: &[&Road]) -> String {
    let roads: Vec<String> = roads.iter().map(|road| road_words(road)).collect();
    let authority = if let [_] = &roads[..] { "authority" } else { "authorities" };
    format!("the {authority} of {}", list(&roads))
}

#[cfg(test)]
mod tests {
    use fallwright_law::{ConstraintOnPath, WayKind};
    use fallwright_units::{ConstraintIx, Hectares, Metres};

    use super::*;
    use crate::words::example::{elm_drain, parcels, road};

    fn way(crossed: &[&str], steps: Vec<WayStep>) -> Way {
        Way {
            way: WayKind::MutualAgreement,
            label: String::new(),
            source: String::new(),
            confirmed: true,
            shares: vec![1],
            cures: Hectares::ZERO,
            pipes: vec![],
            cures_piped: Hectares::ZERO,
            outlet: Some(elm_drain()),
            crossed: parcels(crossed),
            consents: Vec::new(),
            documents: Vec::new(),
            steps,
            if_refused: String::new(),
        }
    }

    fn ontario() -> Profile {
        Profile::shipped("ontario").unwrap()
    }

    fn check(crossed: &[&str], step: WayStep, expected: &str) {
        assert_eq!(sentences(&way(crossed, vec![step]), &[], &ontario()), [expected]);
    }

    fn check_road(roads: &[&Road], step: WayStep, expected: &str) {
        assert_eq!(sentences(&way(&[], vec![step]), roads, &ontario()), [expected]);
    }

    #[test]
    fn the_profile_s_sentences_are_filled_in() {
        check(
            &["101", "102"],
            WayStep::OfProfile("Agree with the owners of {parcels} on a drain to {outlet}.".to_owned()),
            "Agree with the owners of parcels 101 and 102 on a drain to Elm Drain (D-07).",
        );
        check(&[], WayStep::OfProfile("Keep the written answer.".to_owned()), "Keep the written answer.");
    }

    #[test]
    fn others_who_must_agree() {
        check(&[], WayStep::AskParties, "Ask the parties of Elm Drain (D-07) to take the parcel in.");
    }

    #[test]
    fn road_authorities_who_must_agree() {
        let mill = road("R-1", Some("Mill Road"), Some("County of Thrumbleby"));
        let unnamed = road("R-4", None, None);
        check_road(
            &[&mill],
            WayStep::AskRoadAuthority,
            "Ask the authority of Mill Road (County of Thrumbleby) to agree: the water crosses that road on the way.",
        );
        check_road(
            &[&mill, &unnamed],
            WayStep::AskRoadAuthority,
            "Ask the authorities of Mill Road (County of Thrumbleby) and road R-4 to agree: the water crosses these roads on the way.",
        );
        check_road(
            &[&unnamed],
            WayStep::RoadAuthorityMustAgreeToo,
            "The water crosses road R-4 on the way: the authority of road R-4 must agree too.",
        );
        check_road(
            &[&unnamed, &mill],
            WayStep::RoadAuthorityMustAgreeToo,
            "The water crosses road R-4 and Mill Road on the way: the authorities of road R-4 and Mill Road (County of Thrumbleby) must agree too.",
        );
        check(
            &["101"],
            WayStep::AgreeOnWayToDitch,
            "Agree with the owners of parcel 101, who lie between the parcel and the ditch.",
        );
        check(
            &[],
            WayStep::MunicipalityMustAssess(elm_drain()),
            "The way ends in Elm Drain (D-07): the municipality must agree, and assess the land into it.",
        );
    }

    #[test]
    fn what_works_would_meet_is_named_with_whom_to_ask() {
        let met = |position: usize, kind: &str, name: Option<&str>, metres: f64, places: usize| ConstraintOnPath {
            constraint: ConstraintIx(position),
            kind: kind.to_owned(),
            id: Some(format!("X-{position}")),
            name: name.map(str::to_owned),
            class: None,
            metres: Metres::from_metres(metres).unwrap(),
            places,
        };
        let who = "the conservation authority, before any works".to_owned();
        let both = vec![met(1, "wetland", Some("Sallow Fen"), 120.4, 1), met(2, "regulated_area", None, 340.0, 2)];
        check(
            &[],
            WayStep::AskAboutConstraints { who, met: both },
            "Works along the path would meet the wetland Sallow Fen (X-1) over 120 m at 1 place and the regulated area X-2 over 340 m at 2 places: ask the conservation authority, before any works.",
        );
    }

    #[test]
    fn steps_come_in_order() {
        let steps = vec![WayStep::OfProfile("One.".to_owned()), WayStep::OfProfile("Two.".to_owned())];
        assert_eq!(sentences(&way(&[], steps), &[], &ontario()), ["One.", "Two."]);
    }

    /// Of every way of every shipped profile, with and without an outlet.
    #[test]
    fn every_step_is_a_complete_sentence() {
        for profile in Profile::SHIPPED.map(|name| Profile::shipped(name).unwrap()) {
            for rule in profile.ways() {
                let steps = rule.steps.iter().cloned().map(WayStep::OfProfile).collect();
                let with = way(&["101"], steps);
                let without = Way { outlet: None, ..with.clone() };
                for step in [with, without].iter().flat_map(|way| sentences(way, &[], &profile)) {
                    assert!(step.ends_with('.') && !step.contains(['{', '}']) && !step.contains("  "), "{step}");
                }
            }
        }
    }
}
