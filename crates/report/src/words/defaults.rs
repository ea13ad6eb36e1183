//! Defaults of the capacity check that were used, with their values and sources.

use std::collections::BTreeMap;

use fallwright_study::{DefaultName, DefaultUsed, DefaultValue, DefaultsUsed};

use super::sources::marked;

/// The key of a default, or what of a material it is.
pub(crate) fn default_name(name: &DefaultName) -> String {
    match name {
        DefaultName::Key(key) => (*key).to_owned(),
        DefaultName::PipeRoughness { material } => format!("n of {material}"),
        DefaultName::CulvertInlet { material } => format!("inlet of {material}"),
    }
}

/// Value and source of each default, by its name.
pub(crate) fn defaults_words(used: &DefaultsUsed) -> BTreeMap<String, String> {
    used.iter().map(|(name, used)| (default_name(name), default_words(name, used))).collect()
}

fn default_words(name: &DefaultName, DefaultUsed { value, source, confirmed }: &DefaultUsed) -> String {
    let source = marked(source, *confirmed);
    match (value, name) {
        (DefaultValue::Number(number), _) => format!("{number}: {source}"),
        (DefaultValue::StormMethod(method), _) => format!("{}: {source}", method.name()),
        (DefaultValue::RainfallDistribution(distribution), _) => format!("{}: {source}", distribution.name()),
        (DefaultValue::OfMaterial, DefaultName::PipeRoughness { .. }) => format!("by diameter: {source}"),
        (DefaultValue::OfMaterial, DefaultName::CulvertInlet { .. } | DefaultName::Key(_)) => source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: DefaultName, value: DefaultValue, confirmed: bool, expected: (&str, &str)) {
        let used = DefaultsUsed::from([(name, DefaultUsed { value, source: "a handbook".to_owned(), confirmed })]);
        let (name, words) = expected;
        assert_eq!(defaults_words(&used), BTreeMap::from([(name.to_owned(), words.to_owned())]));
    }

    #[test]
    fn a_default_has_its_value_and_source() {
        let material = || "concrete".to_owned();
        let freeboard = DefaultName::Key("freeboard_m");
        check(freeboard, DefaultValue::Number(0.3), true, ("freeboard_m", "0.3: a handbook"));
        let roughness = DefaultName::PipeRoughness { material: material() };
        let expected = ("n of concrete", "by diameter: a handbook (not confirmed)");
        check(roughness, DefaultValue::OfMaterial, false, expected);
        let inlet = DefaultName::CulvertInlet { material: material() };
        check(inlet, DefaultValue::OfMaterial, true, ("inlet of concrete", "a handbook"));
    }
}
