//! Whether a folder holds one whole set of results.

use std::path::Path;

use fallwright_geodata::{Problem, sha256};
use serde::Deserialize;

use crate::records::run::FileDigest;
use crate::run_record::RECORD;

#[derive(Deserialize)]
struct Listed {
    outputs: Vec<FileDigest>,
}

/// Checks that a folder holds every file that its `run.json` lists, with the content listed there. A command that is
/// stopped while it replaces an earlier set leaves no `run.json`; files of two runs side by side have other digests.
/// Whatever reads results from a folder asks this first.
///
/// *Complexity*: O(bytes of the results).
///
/// # Errors
/// Every file that is missing or is not the one listed; no `run.json`, or one that cannot be read.
pub fn verify_results(folder: &Path) -> Result<(), Vec<Problem>> {
    let listed = listed(folder).map_err(|found| {
        let expected = "the record of a set of results that was written to its end";
        vec![Problem::in_file(folder.join(RECORD), found, expected, AGAIN)]
    })?;
    let problems: Vec<Problem> = listed.outputs.iter().filter_map(|output| changed(folder, output)).collect();
    if problems.is_empty() { Ok(()) } else { Err(problems) }
}

const AGAIN: &str = "the files here may be of several runs; run the command again";

fn listed(folder: &Path) -> Result<Listed, String> {
    let text = std::fs::read(folder.join(RECORD)).map_err(|error| error.to_string())?;
    serde_json::from_slice(&text).map_err(|error| error.to_string())
}

fn changed(folder: &Path, output: &FileDigest) -> Option<Problem> {
    let file = folder.join(&output.name);
    let found = match sha256(&file) {
        Ok(digest) if digest == output.sha256 => return None,
        Ok(digest) => format!("SHA-256 {digest}"),
        Err(error) => error.to_string(),
    };
    Some(Problem::in_file(file, found, format!("the file that run.json lists, SHA-256 {}", output.sha256), AGAIN))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SHA-256 of "abc": FIPS 180-4 example, NIST "SHA-256 example values".
    const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    fn check(files: &[(&str, &str)], expected: &[&str]) {
        let folder = tempfile::tempdir().expect("a temporary folder");
        for (name, text) in files {
            std::fs::write(folder.path().join(name), text).expect("a file");
        }
        let found = verify_results(folder.path()).err().unwrap_or_default();
        let named: Vec<String> =
            found.iter().map(|problem| problem.file.rsplit('/').next().unwrap_or_default().to_owned()).collect();
        assert_eq!(named, expected, "{found:?}");
    }

    #[test]
    fn a_torn_set_is_refused_by_the_names_of_its_files() {
        let record =
            format!(r#"{{"outputs": [{{"name": "a", "sha256": "{ABC}"}}, {{"name": "b", "sha256": "{ABC}"}}]}}"#);
        check(&[("a", "abc"), ("b", "abc"), ("run.json", &record), ("of_the_user", "")], &[]);
        check(&[("a", "abc"), ("b", "abd"), ("run.json", &record)], &["b"]);
        check(&[("b", "ab"), ("run.json", &record)], &["a", "b"]);
        check(&[("a", "abc"), ("b", "abc")], &["run.json"]);
        check(&[("a", "abc"), ("run.json", "{")], &["run.json"]);
        check(&[("run.json", "{}")], &["run.json"]);
    }
}
