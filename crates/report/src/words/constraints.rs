//! What constraints are called, and how much of a path or parcel they concern.

use fallwright_law::{ConstraintOnPath, Profile};
use fallwright_study::{ConstraintAlong, Study};

use super::lands::party_words;
use super::names::list;
use super::numbers::{counted, hectares};
use crate::records::constraint::ConstraintItem;

/// Where the case names no layer of them, nothing is known of the land.
const NOT_GIVEN: &str = "No layer of constraints given.";
const NONE_MET: &str = "None of the constraints given lies on the parcel or on its main path.";

/// A constraint as a text names it.
struct Named<'a> {
    kind: &'a str,
    id: Option<&'a str>,
    name: Option<&'a str>,
    class: Option<&'a str>,
}

impl Named<'_> {
    /// `the wetland Sallow Fen (W-1)`, `the fish habitat F-1, class B`, `a utility` where it has neither id nor name.
    fn words(&self, profile: &Profile) -> String {
        let kind = profile.constraint(self.kind).map_or_else(|| self.kind.replace('_', " "), |rule| rule.label.clone());
        let named = match (self.name, self.id) {
            (Some(name), Some(id)) if name != id => format!("the {kind} {name} ({id})"),
            (Some(word), _) | (None, Some(word)) => format!("the {kind} {word}"),
            (None, None) => format!("a {kind}"),
        };
        self.class.map_or_else(|| named.clone(), |class| format!("{named}, class {class}"))
    }
}

/// `the wetland Sallow Fen (W-1) over 120 m at 1 place and the utility U-1 over 6 m at 1 place`.
pub(super) fn met_words(profile: &Profile, met: &[ConstraintOnPath]) -> String {
    let each = |met: &ConstraintOnPath| {
        let (id, name, class) = (met.id.as_deref(), met.name.as_deref(), met.class.as_deref());
        let named = Named { kind: &met.kind, id, name, class }.words(profile);
        format!("{named} {}", over(met.metres.metres(), met.places))
    };
    list(&met.iter().map(each).collect::<Vec<_>>())
}

/// A sentence on a constraint that a path meets, with the lands on which that is and whom to ask.
pub(crate) fn along_words(study: &Study, met: &ConstraintAlong) -> String {
    let given = &study.inputs.constraints[met.constraint];
    let (id, name, class) = (given.id.as_deref(), given.name.as_deref(), given.class.as_deref());
    let profile = &study.inputs.profile;
    let named = Named { kind: &given.kind, id, name, class }.words(profile);
    let lands: Vec<String> = met.lands.iter().map(|&party| party_words(study, party)).collect();
    format!(
        "meets {named} {}, on {}; ask {}",
        over(met.metres.metres(), met.places),
        list(&lands),
        profile.ask_about(&given.kind)
    )
}

/// A sentence on each constraint that lies on a parcel or is met by its main path; one that says why where there is none.
pub(crate) fn constraint_sentences(study: &Study, items: &[ConstraintItem]) -> Vec<String> {
    if study.inputs.case.constraints.is_empty() {
        return vec![NOT_GIVEN.to_owned()];
    }
    if items.is_empty() {
        return vec![NONE_MET.to_owned()];
    }
    items.iter().map(|item| sentence(&study.inputs.profile, item, "on the parcel")).collect()
}

/// The same of an area.
pub(crate) fn area_constraint_sentences(study: &Study, items: &[ConstraintItem]) -> Vec<String> {
    if study.inputs.case.constraints.is_empty() {
        return vec![NOT_GIVEN.to_owned()];
    }
    if items.is_empty() {
        return vec!["None of the constraints given lies in the area.".to_owned()];
    }
    items.iter().map(|item| sentence(&study.inputs.profile, item, "in the area")).collect()
}

/// `The wetland Sallow Fen (W-1): met by the main path over 120 m at 1 place; 0.52 ha of it on the parcel. Ask …`.
fn sentence(profile: &Profile, item: &ConstraintItem, place: &str) -> String {
    let (id, name, class) = (item.id.as_deref(), item.name.as_deref(), item.class.as_deref());
    let named = Named { kind: &item.kind, id, name, class }.words(profile);
    let on_path = (item.places > 0).then(|| format!("met by the main path {}", over(item.metres, item.places)));
    let of_area = item.hectares.map(|area| format!("{} of it {place}", hectares(area)));
    let of_line = item.line_m.map(|length| format!("{} of it {place}", whole_metres(length)));
    let parts: Vec<String> = [on_path, of_area, of_line].into_iter().flatten().collect();
    format!("{}: {}. Ask {}.", capitalised(&named), parts.join("; "), item.ask)
}

fn over(metres: f64, places: usize) -> String {
    format!("over {} at {}", whole_metres(metres), counted(places, "place", "places"))
}

fn whole_metres(metres: f64) -> String {
    if metres < 1.0 { "less than 1 m".to_owned() } else { format!("{metres:.0} m") }
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ontario() -> Profile {
        Profile::shipped("ontario").unwrap()
    }

    #[test]
    fn a_constraint_has_its_kind_name_id_and_class() {
        let check = |kind, [id, name, class]: [Option<&str>; 3], expected: &str| {
            assert_eq!(Named { kind, id, name, class }.words(&ontario()), expected);
        };
        check("wetland", [Some("W-1"), Some("Sallow Fen"), None], "the wetland Sallow Fen (W-1)");
        check("wetland", [Some("W-1"), None, None], "the wetland W-1");
        check("wetland", [Some("W-1"), Some("W-1"), None], "the wetland W-1");
        check("regulated_area", [None, Some("Sorrelhasp Creek"), None], "the regulated area Sorrelhasp Creek");
        check("fish_habitat", [Some("F-1"), None, Some("B")], "the fish habitat F-1, class B");
        check("utility", [None, None, None], "a utility");
        check("burial_ground", [Some("7"), None, None], "the burial ground 7");
    }

    fn item(metres: f64, places: usize, hectares: Option<f64>, line_m: Option<f64>) -> ConstraintItem {
        ConstraintItem {
            kind: "wetland".to_owned(),
            id: Some("W-1".to_owned()),
            name: None,
            class: None,
            metres,
            places,
            hectares,
            line_m,
            ask: "the clerk".to_owned(),
            source: None,
        }
    }

    #[test]
    fn a_sentence_says_how_much_is_concerned() {
        let check = |item: ConstraintItem, expected: &str| {
            assert_eq!(sentence(&ontario(), &item, "on the parcel"), expected);
        };
        check(
            item(120.4, 1, Some(0.518), None),
            "The wetland W-1: met by the main path over 120 m at 1 place; 0.52 ha of it on the parcel. Ask the clerk.",
        );
        check(item(8.0, 2, None, None), "The wetland W-1: met by the main path over 8 m at 2 places. Ask the clerk.");
        check(item(0.0, 0, None, Some(340.0)), "The wetland W-1: 340 m of it on the parcel. Ask the clerk.");
        check(
            item(0.3, 1, None, None),
            "The wetland W-1: met by the main path over less than 1 m at 1 place. Ask the clerk.",
        );
    }
}
