//! The table of defaults of the capacity check, and what the case picks from it by name.

use fallwright_geodata::Problem;
use fallwright_hydraulics::Defaults;

use crate::file::{CaseFile, Draft};
use crate::nearest::meant;
use crate::spelling;

/// The table of defaults, and the case's choices from it; `None` where there is a fault in the table.
pub(super) fn read(draft: &mut Draft) -> Option<Defaults> {
    if draft.doubts(&["capacity", "capacity.defaults"]) {
        return None;
    }
    let defaults = draft.noted(table(&draft.case).map_err(|fault| vec![*fault]))?;
    draft.problems.extend(settle_choices(&mut draft.case, &defaults));
    Some(defaults)
}

/// The table that the case names, or the shipped one.
///
/// # Errors
/// A file that cannot be read or is no complete table.
fn table(case: &CaseFile) -> Result<Defaults, Box<Problem>> {
    let Some(source) = &case.capacity.defaults else { return Ok(Defaults::shipped()) };
    let problem = |found: String, hint: &str| {
        Box::new(Problem::in_file(&source.given, found, "a complete table of defaults in TOML", hint))
    };
    let text = std::fs::read_to_string(&source.path)
        .map_err(|error| problem(error.to_string(), "check the path and whether you may read the file"))?;
    Defaults::from_toml(&text)
        .map_err(|error| problem(error.to_string(), "complete the table; the shipped one shows every key"))
}

/// Takes the names under `[capacity]` to those of the table, whatever their spelling.
///
/// # Errors
/// Names that the table does not have.
fn settle_choices(case: &mut CaseFile, defaults: &Defaults) -> Vec<Problem> {
    let covers: Vec<&str> = defaults.covers.iter().map(|cover| cover.name.as_str()).collect();
    let soils: Vec<&str> = defaults.soils.iter().map(|soil| soil.name.as_str()).collect();
    let file = case.file.as_str();
    let choices = [("cover", &mut case.capacity.cover, covers), ("soil", &mut case.capacity.soil, soils)];
    choices.into_iter().filter_map(|(key, name, known)| settle(file, key, name.as_mut()?, &known)).collect()
}

fn settle(file: &str, key: &str, name: &mut String, known: &[&str]) -> Option<Problem> {
    if let Some(position) = spelling::find(name, known.iter().copied()) {
        known[position].clone_into(name);
        return None;
    }
    let hint = meant(name, known.iter().copied()).map_or_else(
        || "use one of them, or add it to the table of defaults".to_owned(),
        |near| format!("did you mean {near:?}?"),
    );
    let expected = format!("one of {}", known.join(", "));
    Some(Problem::in_file(file, format!("{name:?}"), expected, hint).at_key(format!("capacity.{key}")))
}
