//! Classes of features: the words of a layer's class field, taken to the classes of the rule profile.
//!
//! A value means, in this order: what the layer's `class_map` says of it; the class that is written in the same way; what the
//! map says of the same word in another spelling; the class of the same word in another spelling.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::{Problem, VectorLayer};
use fallwright_law::Profile;

use super::note::Note;
use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file::ClassMap;
use crate::nearest::meant;
use crate::spelling;

/// The class field of one layer.
pub(super) struct ClassField<'a> {
    field: &'a str,
    map: &'a ClassMap,
    /// Words of the map that some feature has.
    used: BTreeSet<String>,
    /// Values that mean no class, with the features that have them.
    unknown: BTreeMap<String, Vec<String>>,
}

impl<'a> ClassField<'a> {
    pub(super) fn new(field: &'a str, map: &'a ClassMap) -> Self {
        Self { field, map, used: BTreeSet::new(), unknown: BTreeMap::new() }
    }

    /// The class of a feature; `None` where its field is empty. A value that means none is kept as it is and reported by
    /// [`Self::finish`].
    pub(super) fn of(&mut self, reading: &Reading, place: FeaturePlace, id: Option<&str>) -> Option<String> {
        let value = place.feature.attributes.get(self.field)?.text()?;
        let Some(profile) = reading.profile else { return Some(value) };
        if let Some(meaning) = meaning(&value, self.map, profile) {
            self.used.extend(meaning.word);
            return Some(meaning.class);
        }
        self.unknown.entry(value.clone()).or_default().push(place.name(id));
        Some(value)
    }

    /// Reports a feature that must have a class and has none.
    pub(super) fn refuse_empty(&self, reading: &mut Reading, place: FeaturePlace, id: Option<&str>) {
        let Some(profile) = reading.profile else { return };
        if place.layer.fields.iter().any(|known| known == self.field) {
            let found = format!("no class in the field {:?}", self.field);
            let hint = "fill in the class";
            reading.problems.push(place.problem(id, found, &expected(profile), hint));
        }
    }

    /// Reports what is wrong with the values and the map, once all features are read.
    pub(super) fn finish(self, reading: &mut Reading, layer: &VectorLayer) {
        let Some(profile) = reading.profile else { return };
        for (value, features) in &self.unknown {
            let found = format!("the class {value:?} in the field {:?}{}", self.field, others(&features[1..]));
            let problem = Problem::in_file(&layer.file, found, expected(profile), self.hint(value, profile));
            reading.problems.push(problem.in_layer(&layer.layer).at_feature(&features[0]));
        }
        let no_classes = self.map.classes.iter().filter(|(_, class)| position(class, profile).is_none());
        let no_classes = no_classes.map(|(word, class)| {
            let found = format!("the class {class:?} for {word:?}");
            no_class(reading.case_file, found, class, profile).at_key(&self.map.key)
        });
        reading.problems.extend(no_classes);
        let unused: Vec<&str> =
            self.map.classes.keys().map(String::as_str).filter(|&word| !self.used.contains(word)).collect();
        if !unused.is_empty() {
            reading.notes.push(Note::new(
                format!("class_map of {}", layer.file),
                format!("words that no feature has in the field {:?}: {}", self.field, unused.join(", ")),
                "left unused; correct their spelling if they were meant for some features",
            ));
        }
    }

    /// What to do about a value that means no class.
    fn hint(&self, value: &str, profile: &Profile) -> String {
        let words = self.map.classes.keys().map(String::as_str);
        let near = meant(value, profile.class_ids().chain(words));
        let class = near.and_then(|near| meaning(near, self.map, profile)).map_or("...".to_owned(), |near| near.class);
        let add = if self.map.classes.is_empty() {
            format!("add class_map = {{ {value:?} = {class:?} }} to the layer's table")
        } else {
            format!("add {value:?} = {class:?} to its class_map")
        };
        near.map_or_else(
            || format!("say which class it stands for: {add}"),
            |near| format!("did you mean {near:?}? if it is a word of your own, {add}"),
        )
    }
}

/// How many more features have a value, and which.
fn others(features: &[String]) -> String {
    /// More features than this are not listed (our choice).
    const LISTED: usize = 10;
    if features.is_empty() {
        return String::new();
    }
    let more = if features.len() > LISTED { ", …" } else { "" };
    format!(", which {} more have: {}{more}", features.len(), features[..features.len().min(LISTED)].join(", "))
}

/// The case file names a class that is none of the profile's.
pub(super) fn no_class(case_file: &str, found: String, class: &str, profile: &Profile) -> Problem {
    let hint = meant(class, profile.class_ids())
        .map_or_else(|| "use a class of the rule profile".to_owned(), |near| format!("did you mean {near:?}?"));
    Problem::in_file(case_file, found, expected(profile), hint)
}

fn expected(profile: &Profile) -> String {
    format!("a class of the profile {}: {}", profile.id, profile.class_ids().collect::<Vec<_>>().join(", "))
}

/// The class that a word means by itself, in any spelling.
pub(super) fn class_of(word: &str, profile: &Profile) -> Option<String> {
    position(word, profile).map(|position| profile.classes()[position].id.clone())
}

fn position(word: &str, profile: &Profile) -> Option<usize> {
    spelling::find(word, profile.classes().iter().map(|class| class.id.as_str()))
}

/// What a value means.
struct Meaning {
    class: String,
    /// The word of the map that says so.
    word: Option<String>,
}

/// A word of the map that stands for no class of the profile means what it says; the map's own fault is reported once.
fn meaning(value: &str, map: &ClassMap, profile: &Profile) -> Option<Meaning> {
    let by_map = |word: &str| {
        let class = map.classes.get(word)?;
        let class = class_of(class, profile).unwrap_or_else(|| class.clone());
        Some(Meaning { class, word: Some(word.to_owned()) })
    };
    let by_spelling = || {
        let mut words = map.classes.keys();
        spelling::find(value, words.clone().map(String::as_str)).and_then(|position| by_map(words.nth(position)?))
    };
    let itself = |class: String| Meaning { class, word: None };
    by_map(value)
        .or_else(|| profile.class(value).map(|class| itself(class.id.clone())))
        .or_else(by_spelling)
        .or_else(|| class_of(value, profile).map(itself))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(pairs: &[(&str, &str)]) -> ClassMap {
        let classes = pairs.iter().map(|(word, class)| ((*word).to_owned(), (*class).to_owned())).collect();
        ClassMap { key: "waterways[1].class_map".to_owned(), classes }
    }

    #[test]
    fn a_value_means_its_class() {
        let profile = Profile::shipped("ontario").unwrap();
        let check = |value: &str, pairs: &[(&str, &str)], expected: Option<&str>| {
            let found = meaning(value, &map(pairs), &profile).map(|meaning| meaning.class);
            assert_eq!(found.as_deref(), expected, "{value} by {pairs:?}");
        };
        check("municipal_drain", &[], Some("municipal_drain"));
        check("Municipal drain", &[], Some("municipal_drain"));
        check("MD", &[], None);
        check("MD", &[("MD", "municipal_drain")], Some("municipal_drain"));
        check("m-d", &[("MD", "municipal_drain")], Some("municipal_drain"));
        check("MD", &[("MD", "Municipal Drain")], Some("municipal_drain"));
        check("road_ditch", &[("MD", "municipal_drain")], Some("road_ditch"));
        // What is written in the same way comes first: the class before the map's other spelling, the map before the class.
        check("road_ditch", &[("Road Ditch", "natural_watercourse")], Some("road_ditch"));
        check("Road ditch", &[("Road Ditch", "natural_watercourse")], Some("natural_watercourse"));
        check("road_ditch", &[("road_ditch", "natural_watercourse")], Some("natural_watercourse"));
    }
}
