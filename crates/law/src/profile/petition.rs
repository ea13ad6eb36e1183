//! Reads what a profile asks of petitions and remonstrances.

use toml::Table;

use super::read::{Problems, ProfileTable, once};
use crate::petition::{
    CostAtRisk, Denominator, Fraction, HeadRule, Officer, PetitionCondition, PetitionLaw, PetitionRules, PetitionTest,
    Requirement, Withdrawals,
};

/// The tables `[petition]` and `[remonstrance]`, where a profile has them.
pub(super) fn law(petition: Option<Table>, remonstrance: Option<Table>, problems: &mut Problems) -> PetitionLaw {
    let objections = remonstrance.map(|table| remonstrance_tests(table, problems)).unwrap_or_default();
    let Some(table) = petition else { return PetitionLaw::Unstated };
    if table.contains_key("none") {
        let mut part = ProfileTable::new("[petition]", table, problems);
        let (text, source, confirmed) = (part.text("none"), part.source("source"), part.yes_no("confirmed"));
        part.close();
        return PetitionLaw::None { text, source, confirmed };
    }
    let mut part = ProfileTable::new("[petition]", table, problems);
    let (roll, liability, decides) = (part.text("roll"), part.text("liability"), part.text("decides"));
    let (source, confirmed) = (part.source("source"), part.yes_no("confirmed"));
    let sliver_ha = part.sourced("sliver_ha");
    let tests = part.parts("test", "id");
    let (officers, costs) = (part.optional_parts("officer", "id"), part.optional_parts("cost", "ends"));
    part.close();
    let tests: Vec<PetitionTest> = tests.into_iter().map(|(at, table)| test(&at, table, problems)).collect();
    once("[[petition.test]]", tests.iter().map(|test| test.id.as_str()), problems);
    PetitionLaw::Known(Box::new(PetitionRules {
        roll,
        liability,
        decides,
        source,
        confirmed,
        sliver_ha,
        petition: tests,
        officers: officers.into_iter().map(|(at, table)| officer(&at, table, problems)).collect(),
        remonstrance: objections,
        costs: costs.into_iter().map(|(at, table)| cost(&at, table, problems)).collect(),
    }))
}

fn remonstrance_tests(table: Table, problems: &mut Problems) -> Vec<PetitionTest> {
    let mut part = ProfileTable::new("[remonstrance]", table, problems);
    let tests = part.parts("test", "id");
    part.close();
    let tests: Vec<PetitionTest> = tests.into_iter().map(|(at, table)| test(&at, table, problems)).collect();
    once("[[remonstrance.test]]", tests.iter().map(|test| test.id.as_str()), problems);
    tests
}

fn test(at: &str, table: Table, problems: &mut Problems) -> PetitionTest {
    let mut part = ProfileTable::new(at, table, problems);
    let (id, label) = (part.text("id"), part.text("label"));
    let (source, confirmed) = (part.source("source"), part.yes_no("confirmed"));
    let withdrawals = part.one_of("withdrawals", &Withdrawals::ALL, Withdrawals::code).unwrap_or(Withdrawals::Counted);
    let withdrawals_until = part.text("withdrawals_until");
    let conditions = part.parts("all_of", "of");
    part.close();
    let all_of = conditions.into_iter().filter_map(|(place, table)| {
        let place = format!("{at} {}", place.replace("[[", "").replace("]]", ""));
        condition(&place, table, problems)
    });
    PetitionTest { id, label, source, confirmed, withdrawals, withdrawals_until, all_of: all_of.collect() }
}

fn condition(at: &str, table: Table, problems: &mut Problems) -> Option<PetitionCondition> {
    let mut part = ProfileTable::new(at, table, problems);
    let codes: Vec<usize> = (0..Denominator::CODES.len()).collect();
    let of = part.one_of("of", &codes, |position| Denominator::CODES[position]);
    let of = of.and_then(|position| match Denominator::CODES[position] {
        "owners" => part.one_of("heads", &HeadRule::ALL, HeadRule::code).map(Denominator::Owners),
        "owners_and_road_authorities" => {
            part.one_of("heads", &HeadRule::ALL, HeadRule::code).map(Denominator::OwnersAndRoadAuthorities)
        }
        "land" => Some(Denominator::Land),
        "land_and_roads" => Some(Denominator::LandAndRoads),
        _ => Some(Denominator::LandAndPerhapsRoads),
    });
    let requirement = requirement(&mut part, of.is_none_or(|of| of.heads().is_some()));
    part.close();
    Some(PetitionCondition { of: of?, requirement: requirement? })
}

/// The one of `more_than`, `at_least` and, for heads, `count` that is given.
fn requirement(part: &mut ProfileTable, of_heads: bool) -> Option<Requirement> {
    let keys: &[&'static str] = if of_heads { &["more_than", "at_least", "count"] } else { &["more_than", "at_least"] };
    let given: Vec<&'static str> = keys.iter().copied().filter(|key| part.has(key)).collect();
    let &[key] = &given[..] else {
        let found = if given.is_empty() { "none of them".to_owned() } else { given.join(" and ") };
        part.unexpected(&keys.join("`, `"), found, "exactly one of them");
        for key in keys {
            part.drop(key);
        }
        return None;
    };
    if key == "count" {
        return part.whole(key).map(Requirement::Count);
    }
    let text = part.text(key);
    let fraction = Fraction::parse(&text);
    if fraction.is_none() && !text.is_empty() {
        part.unexpected(key, format!("{text:?}"), "a fraction above 0 and up to 1 as text: \"1/2\"");
    }
    fraction.map(if key == "more_than" { Requirement::MoreThan } else { Requirement::AtLeast })
}

fn officer(at: &str, table: Table, problems: &mut Problems) -> Officer {
    let mut part = ProfileTable::new(at, table, problems);
    let officer = Officer {
        id: part.text("id"),
        label: part.text("label"),
        source: part.source("source"),
        confirmed: part.yes_no("confirmed"),
    };
    part.close();
    officer
}

fn cost(at: &str, table: Table, problems: &mut Problems) -> CostAtRisk {
    let mut part = ProfileTable::new(at, table, problems);
    let cost = CostAtRisk {
        ends: part.text("ends"),
        rule: part.text("rule"),
        source: part.source("source"),
        confirmed: part.yes_no("confirmed"),
    };
    part.close();
    cost
}

#[cfg(test)]
mod tests {
    use crate::Profile;
    use crate::petition::PetitionLaw;

    /// What is found wrong with Ontario's profile after a change of its text.
    #[track_caller]
    fn check(before: &str, after: &str, expected: &[&str]) {
        let text = include_str!("../../profiles/ontario.toml");
        assert!(text.contains(before), "no {before:?} in the profile");
        let result = Profile::from_toml(&text.replacen(before, after, 1));
        let problems: Vec<String> =
            result.err().map(|error| error.problems.iter().map(ToString::to_string).collect()).unwrap_or_default();
        assert_eq!(problems.len(), expected.len(), "{problems:#?}");
        for (problem, expected) in problems.iter().zip(expected) {
            assert!(problem.contains(expected), "no {expected:?} in {problem}");
        }
    }

    const MAJORITY: &str =
        r#"all_of = [{ of = "owners_and_road_authorities", heads = "ownership_unit", more_than = "1/2" }]"#;

    #[test]
    fn every_fault_of_a_test_is_named() {
        check(MAJORITY, MAJORITY, &[]);
        check(MAJORITY, r#"all_of = [{ of = "land", more_than = "1/2" }]"#, &[]);
        check(MAJORITY, r#"all_of = [{ of = "owners", heads = "parcel", count = 2 }]"#, &[]);
        check(MAJORITY, "all_of = []", &["`all_of` is a list, expected tables"]);
        check(MAJORITY, r#"all_of = [{ of = "hectares", more_than = "1/2" }]"#, &["one of owners, "]);
        check(MAJORITY, r#"all_of = [{ of = "owners", more_than = "1/2" }]"#, &["key `heads` is missing"]);
        check(MAJORITY, r#"all_of = [{ of = "land", heads = "parcel", more_than = "1/2" }]"#, &["unknown key `heads`"]);
        check(MAJORITY, r#"all_of = [{ of = "land", more_than = "3/2" }]"#, &["\"3/2\", expected a fraction"]);
        check(MAJORITY, r#"all_of = [{ of = "land" }]"#, &["is none of them, expected exactly one of them"]);
        check(
            MAJORITY,
            r#"all_of = [{ of = "land", more_than = "1/2", at_least = "1/2" }]"#,
            &["is more_than and at_least, expected exactly one of them"],
        );
        check(MAJORITY, r#"all_of = [{ of = "land", count = 2 }]"#, &["is none of them", "unknown key `count`"]);
        check(
            MAJORITY,
            r#"all_of = [{ of = "owners", heads = "parcel", count = 0 }]"#,
            &["`count` is 0, expected a whole number above 0"],
        );
        check("withdrawals = \"counted\"", "withdrawals = \"maybe\"", &["one of counted, ignored"]);
    }

    #[test]
    fn every_shipped_profile_has_its_own_or_says_that_its_law_knows_none() {
        for name in Profile::SHIPPED {
            match Profile::shipped(name).unwrap().petition {
                PetitionLaw::Known(rules) => assert!(!rules.petition.is_empty(), "{name}"),
                PetitionLaw::None { text, .. } => assert!(!text.is_empty(), "{name}"),
                PetitionLaw::Unstated => panic!("{name} says nothing of petitions"),
            }
        }
    }
}
