//! Sources of rules, and whether they are confirmed.

use std::borrow::Cow;

use fallwright_law::Rule;

/// A statement of the profile, with a mark where it is not confirmed.
pub(crate) fn marked(statement: &str, confirmed: bool) -> String {
    if confirmed { statement.to_owned() } else { format!("{statement} (not confirmed)") }
}

/// Where the rule comes from.
pub(crate) fn rule_source(rule: &Rule) -> Cow<'_, str> {
    match rule {
        Rule::Class { source, confirmed, .. } => marked(source, *confirmed).into(),
        Rule::AreaAccuracy { source }
        | Rule::MissingElevation { source }
        | Rule::CellsAcross { source }
        | Rule::FilledArea { source }
        | Rule::FilledGround { source }
        | Rule::UnmappedChannel { source } => source.into(),
        Rule::ElevationAccuracy => "twice the standard error of the difference of two independent heights".into(),
    }
}

#[cfg(test)]
mod tests {
    use fallwright_law::Profile;

    use super::*;

    #[test]
    fn what_is_not_confirmed_is_marked() {
        let profile = Profile::shipped("ontario").unwrap();
        let notified = |class: &str| &profile.class(class).unwrap().notified;
        let words = |class: &str| marked(&notified(class).who, notified(class).confirmed);
        assert_eq!(words("road_ditch"), "the road authority (not confirmed)");
        assert_eq!(words("municipal_drain"), notified("municipal_drain").who);
    }
}
