//! A count of an earlier stage, read from the `petition.json` that it wrote.

use std::path::Path;

use fallwright_geodata::Problem;
use serde::Deserialize;

use crate::records::petition::{PetitionTestRecord, StageRecord};

#[derive(Deserialize)]
struct Earlier {
    stage: String,
    verdict: String,
    tests: Vec<PetitionTestRecord>,
}

/// Reads the count of an earlier stage.
///
/// # Errors
/// A file that is missing or no such count.
pub fn read_stage(file: &Path) -> Result<StageRecord, Box<Problem>> {
    let expected = "the petition.json of an earlier count";
    let problem =
        |found: String| Box::new(Problem::in_file(file, found, expected, "check the path given with --earlier"));
    if !file.is_file() {
        return Err(problem(if file.exists() { "not a regular file" } else { "no such file" }.to_owned()));
    }
    let text = std::fs::read_to_string(file).map_err(|error| problem(error.to_string()))?;
    let Earlier { stage, verdict, tests } = serde_json::from_str(&text).map_err(|error| problem(error.to_string()))?;
    Ok(StageRecord { stage, verdict, tests })
}
