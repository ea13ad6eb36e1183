//! The rule profile that a case names.

use fallwright_geodata::Problem;
use fallwright_law::Profile;

use crate::file::{self, CaseFile, Draft};

/// `None` where there is a fault in it.
pub(super) fn read(draft: &mut Draft) -> Option<Profile> {
    if draft.doubts(&["rules", "rules.profile"]) {
        return None;
    }
    draft.noted(profile(&draft.case))
}

fn profile(case: &CaseFile) -> Result<Profile, Vec<Problem>> {
    match &case.rules.profile {
        file::Profile::Shipped(name) => Profile::shipped(name).ok_or_else(|| {
            let hint = format!("shipped profiles: {}; or give the path of a TOML file", Profile::SHIPPED.join(", "));
            let expected = "a shipped profile or a path to a TOML file";
            vec![Problem::in_file(&case.file, format!("the profile {name:?}"), expected, hint).at_key("rules.profile")]
        }),
        file::Profile::File(source) => {
            let problem = |found: String, expected: &str, hint: &str| {
                vec![Problem::in_file(&source.given, found, expected, hint)]
            };
            let text = std::fs::read_to_string(&source.path)
                .map_err(|error| problem(error.to_string(), "a rule profile in TOML", "check the path"))?;
            let hint = "complete the profile; the shipped ones show every key";
            Profile::from_toml(&text).map_err(|error| problem(error.to_string(), "a complete rule profile", hint))
        }
    }
}
