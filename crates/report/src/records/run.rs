//! `run.json`: the record of a run.

use fallwright_case::Note;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Inputs, settings, outputs and counts of a run, written last. It holds no times, threads or paths, so the same input
/// gives the same bytes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct RunProperties {
    /// fallwright
    pub program: &'static str,
    /// Version of the program
    pub version: &'static str,
    /// Command that was run
    pub command: &'static str,
    /// Caution of every output
    pub caution: &'static str,
    /// Settings that decide the result
    pub settings: Map<String, Value>,
    /// Every input file
    pub inputs: Vec<FileDigest>,
    /// Every other output file
    pub outputs: Vec<FileDigest>,
    /// Counts of the result
    pub counts: Map<String, Value>,
    /// Corrections made and conditions to know of
    pub warnings: Vec<Warning>,
}

/// A file by its content.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub(crate) struct FileDigest {
    /// Name as the case gives it
    pub name: String,
    /// SHA-256 in hexadecimal
    #[schemars(extend("pattern" = "^[0-9a-f]{64}$"))]
    pub sha256: String,
}

/// A condition of the input that did not stop the run.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub(crate) struct Warning {
    /// Layer and feature
    pub about: String,
    /// What was found
    pub found: String,
    /// What was done about it
    pub done: String,
}

impl Warning {
    pub(crate) fn of(Note { about, found, done }: &Note) -> Self {
        Self { about: about.clone(), found: found.clone(), done: done.clone() }
    }
}
