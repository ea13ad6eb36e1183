//! The steps of a way to acquire an outlet.

use fallwright_law::{Way, WayStep};

use super::names::{list_parcels, outlet_name};

/// Short sentences, in order.
pub fn step_sentences(way: &Way) -> Vec<String> {
    let outlet = outlet_name(way.outlet.as_ref());
    let parcels = list_parcels(&way.crossed);
    way.steps.iter().map(|step| sentence(step, &outlet, &parcels)).collect()
}

fn sentence(step: &WayStep, outlet: &str, parcels: &str) -> String {
    match step {
        WayStep::OfProfile(sentence) => sentence.replace("{outlet}", outlet).replace("{parcels}", parcels),
        WayStep::AskParties => format!("Ask the parties of {outlet} to take the parcel in."),
        WayStep::AskRoadAuthority => {
            "Ask the road authority to agree: the water crosses its road on the way.".to_owned()
        }
        WayStep::RoadAuthorityMustAgreeToo => {
            "The water crosses a road on the way: its road authority must agree too.".to_owned()
        }
        WayStep::AgreeOnWayToDitch => format!("Agree with the owners of {parcels}, who lie between the parcel and the ditch."),
        WayStep::MunicipalityMustAssess(drain) => format!(
            "The way ends in {}: the municipality must agree, and assess the land into it.",
            outlet_name(Some(drain))
        ),
    }
}

#[cfg(test)]
mod tests {
    use fallwright_law::{Profile, WayKind};
    use fallwright_units::Hectares;

    use super::*;
    use crate::words::example::{elm_drain, parcels};

    fn way(crossed: &[&str], steps: Vec<WayStep>) -> Way {
        Way {
            way: WayKind::MutualAgreement,
            label: String::new(),
            source: String::new(),
            confirmed: true,
            shares: vec![1],
            cures: Hectares::ZERO,
            outlet: Some(elm_drain()),
            crossed: parcels(crossed),
            consents: Vec::new(),
            documents: Vec::new(),
            steps,
            if_refused: String::new(),
        }
    }

    fn check(crossed: &[&str], step: WayStep, expected: &str) {
        assert_eq!(step_sentences(&way(crossed, vec![step])), [expected]);
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
        check(
            &[],
            WayStep::AskRoadAuthority,
            "Ask the road authority to agree: the water crosses its road on the way.",
        );
        check(
            &["101"],
            WayStep::RoadAuthorityMustAgreeToo,
            "The water crosses a road on the way: its road authority must agree too.",
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
    fn steps_come_in_order() {
        let steps = vec![WayStep::OfProfile("One.".to_owned()), WayStep::OfProfile("Two.".to_owned())];
        assert_eq!(step_sentences(&way(&[], steps)), ["One.", "Two."]);
    }

    /// Of every way of every shipped profile, with and without an outlet.
    #[test]
    fn every_step_is_a_complete_sentence() {
        for profile in Profile::SHIPPED.map(|name| Profile::shipped(name).unwrap()) {
            for rule in profile.ways() {
                let steps = rule.steps.iter().cloned().map(WayStep::OfProfile).collect();
                let with = way(&["101"], steps);
                let without = Way { outlet: None, ..with.clone() };
                for step in [with, without].iter().flat_map(step_sentences) {
                    assert!(step.ends_with('.') && !step.contains(['{', '}']) && !step.contains("  "), "{step}");
                }
            }
        }
    }
}
