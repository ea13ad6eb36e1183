//! The page of the shipped rule profiles: what each class confers, on what source, and what a lawyer would have to confirm.

use fallwright_law::petition::{PetitionCondition, PetitionLaw, PetitionTest};
use fallwright_law::{Class, ConstraintRule, Profile, Sourced, WayRule};

/// `docs/rules.md`, in Markdown.
pub fn rules_page() -> String {
    let profiles: Vec<Profile> = Profile::SHIPPED.into_iter().filter_map(Profile::shipped).collect();
    let mut page = String::from(
        "# Rule profiles\n\nMade from the profiles under `crates/law/profiles/`. A finding that rests on a rule which is not confirmed is at most of\nmedium confidence and names it. Nothing here is legal advice: only a court decides a right.\n",
    );
    for profile in &profiles {
        page.push_str(&of_profile(profile));
    }
    page
}

fn of_profile(profile: &Profile) -> String {
    let classes: String = profile.classes().iter().map(class_row).collect();
    let ways: String = profile.ways().iter().map(way_row).collect();
    let constraints: String = profile.constraints().iter().map(constraint_row).collect();
    let minimums: String = minimums(profile).into_iter().map(minimum_row).collect();
    format!(
        "\n## {}\n\nKey `profile = \"{}\"`. Classes in order of strength.\n\n| class | right by | confers | source | confirmed |\n|---|---|---|---|---|\n{classes}\n| way to acquire | source | confirmed |\n|---|---|---|\n{ways}\n| what works may meet | whom to ask | source | confirmed |\n|---|---|---|---|\n{constraints}\n{}\n| number | value | source |\n|---|---|---|\n{minimums}\n### To confirm with a lawyer\n\n{}",
        profile.name,
        profile.id,
        petitions(&profile.petition),
        to_confirm(profile)
    )
}

fn class_row(class: &Class) -> String {
    let provision = class.provision.code().replace('_', " ");
    format!("| `{}` | {provision} | {} | {} | {} |\n", class.id, class.confers, class.source, yes_no(class.confirmed))
}

fn way_row(way: &WayRule) -> String {
    format!("| {} | {} | {} |\n", way.label, way.source, yes_no(way.confirmed))
}

fn constraint_row(rule: &ConstraintRule) -> String {
    format!("| `{}` | {} | {} | {} |\n", rule.kind, rule.ask, rule.source, yes_no(rule.confirmed))
}

/// What a petition or a remonstrance needs, or that the law is not known to have any.
fn petitions(law: &PetitionLaw) -> String {
    match law {
        PetitionLaw::Unstated => "Petitions: the profile says nothing of them.\n".to_owned(),
        PetitionLaw::None { text, source, .. } => format!("Petitions: {text} ({source})\n"),
        PetitionLaw::Known(rules) => {
            let tests = rules.petition.iter().map(|test| test_row("petition", test));
            let tests = tests.chain(rules.remonstrance.iter().map(|test| test_row("remonstrance", test)));
            format!(
                "Any test is enough; all its conditions must hold.\n\n| test | conditions | withdrawals | source | confirmed |\n|---|---|---|---|---|\n{}",
                tests.collect::<String>()
            )
        }
    }
}

fn test_row(raised_by: &str, test: &PetitionTest) -> String {
    let conditions: Vec<String> = test.all_of.iter().map(condition_words).collect();
    format!(
        "| {raised_by}: {} | {} | {}, until {} | {} | {} |\n",
        test.label,
        conditions.join("; "),
        test.withdrawals.code(),
        test.withdrawals_until,
        test.source,
        yes_no(test.confirmed)
    )
}

/// `more than 1/2 of owners and road authorities, by ownership unit`.
fn condition_words(condition: &PetitionCondition) -> String {
    let plain = |code: &str| code.replace('_', " ");
    let amount = match condition.requirement.fraction() {
        Some(fraction) => format!("{} {}", plain(condition.requirement.code()), fraction.words()),
        None => format!("at least {}", condition.requirement.needed(0)),
    };
    let heads = condition.of.heads().map_or_else(String::new, |rule| format!(", by {}", plain(rule.code())));
    format!("{amount} of {}{heads}", plain(condition.of.code()))
}

fn minimum_row((name, number): (&str, &Sourced)) -> String {
    format!("| `{name}` | {} | {} |\n", number.value, number.source)
}

fn minimums(profile: &Profile) -> [(&'static str, &Sourced); 14] {
    let (minimums, channel) = (&profile.minimums, &profile.unmapped_channel);
    [
        ("missing_elevation_ha", &minimums.missing_elevation_ha),
        ("missing_elevation_fraction", &minimums.missing_elevation_fraction),
        ("excess_ha", &minimums.excess_ha),
        ("excess_fraction", &minimums.excess_fraction),
        ("frontage_m", &minimums.frontage_m),
        ("filled_m", &minimums.filled_m),
        ("filled_ha", &minimums.filled_ha),
        ("doubtful_fraction", &minimums.doubtful_fraction),
        ("cells_across", &minimums.cells_across),
        ("unmapped_channel.contributing_ha", &channel.contributing_ha),
        ("unmapped_channel.depth_m", &channel.depth_m),
        ("unmapped_channel.bank_distance_m", &channel.bank_distance_m),
        ("unmapped_channel.length_m", &channel.length_m),
        ("unmapped_channel.cells_to_bank", &channel.cells_to_bank),
    ]
}

/// A line for each rule, notice and strip that is not confirmed.
fn to_confirm(profile: &Profile) -> String {
    let classes = profile.classes().iter().filter(|class| !class.confirmed);
    let classes = classes.map(|class| format!("- {}: {} ({})\n", class.label, class.confers, class.source));
    let notices = profile.classes().iter().filter(|class| !class.notified.confirmed);
    let notices = notices.map(|class| {
        format!("- {}: notice before work to {} ({})\n", class.label, class.notified.who, class.notified.source)
    });
    let ways = profile.ways().iter().filter(|way| !way.confirmed);
    let ways = ways.map(|way| format!("- way, {}: {}\n", way.label, way.source));
    let buffer = profile.buffer.iter().filter(|buffer| !buffer.confirmed);
    let buffer = buffer
        .map(|buffer| format!("- strip of {} m along open drains ({})\n", buffer.width_m.value, buffer.width_m.source));
    let constraints = profile.constraints().iter().filter(|rule| !rule.confirmed);
    let constraints = constraints.map(|rule| format!("- {}: ask {} ({})\n", rule.label, rule.ask, rule.source));
    let petitions: Vec<&PetitionTest> = match &profile.petition {
        PetitionLaw::Known(rules) => rules.petition.iter().chain(&rules.remonstrance).collect(),
        PetitionLaw::None { .. } | PetitionLaw::Unstated => Vec::new(),
    };
    let petitions = petitions.into_iter().filter(|test| !test.confirmed);
    let petitions = petitions.map(|test| format!("- petition, {}: {}\n", test.label, test.source));
    classes.chain(notices).chain(ways).chain(buffer).chain(constraints).chain(petitions).collect()
}

const fn yes_no(confirmed: bool) -> &'static str {
    if confirmed { "yes" } else { "no" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_confirmed_is_listed() {
        let ontario = to_confirm(&Profile::shipped("ontario").unwrap());
        assert!(ontario.contains("- lake: As for a natural watercourse."));
        assert!(ontario.contains("- way, connection to a municipal drain: Drainage Act, ss. 65 and 76"));
        assert!(
            ontario.contains("- utility: ask the utility and the locate service, before any digging (common practice")
        );
        assert!(!ontario.contains("- municipal drain: Land assessed"));
    }
}
