//! The table of defaults of the capacity check, and what the case picks from it by name.

use fallwright_geodata::Problem;
use fallwright_hydraulics::Defaults;

use crate::CaseFile;
use crate::nearest::meant;

/// The table that the case names, or the shipped one.
///
/// # Errors
/// A file that cannot be read or is no complete table.
pub(super) fn read(case: &CaseFile) -> Result<Defaults, Box<Problem>> {
    let Some(source) = &case.capacity.defaults else { return Ok(Defaults::shipped()) };
    let problem = |found: String, hint: &str| {
        Box::new(Problem::in_file(&source.given, found, "a complete table of defaults in TOML", hint))
    };
    let text = std::fs::read_to_string(&source.path)
        .map_err(|error| problem(error.to_string(), "check the path and whether you may read the file"))?;
    Defaults::from_toml(&text)
        .map_err(|error| problem(error.to_string(), "complete the table; the shipped one shows every key"))
}

/// Names under `[capacity]` that the table does not have, and a part that is no part.
pub(super) fn check_choices(case: &CaseFile, defaults: &Defaults) -> Vec<Problem> {
    let capacity = &case.capacity;
    let covers: Vec<&str> = defaults.covers.iter().map(|cover| cover.name.as_str()).collect();
    let soils: Vec<&str> = defaults.soils.iter().map(|soil| soil.name.as_str()).collect();
    let problem = |key: &str, found: String, expected: String, hint: String| {
        Problem::in_file(&case.file, found, expected, hint).at_key(format!("capacity.{key}"))
    };
    let named = |key: &str, name: Option<&String>, known: &[&str]| {
        let name = name.filter(|name| !known.contains(&name.as_str()))?;
        let hint = meant(name, known.iter().copied()).map_or_else(
            || "use one of them, or add it to the table of defaults".to_owned(),
            |near| format!("did you mean {near:?}?"),
        );
        Some(problem(key, format!("{name:?}"), format!("one of {}", known.join(", ")), hint))
    };
    let faults = [named("cover", capacity.cover.as_ref(), &covers), named("soil", capacity.soil.as_ref(), &soils)];
    faults.into_iter().flatten().collect()
}
