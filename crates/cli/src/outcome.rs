//! What a command hands to its user.

use std::io::{self, ErrorKind, Write};

use fallwright::{At, Problem};
use serde_json::{Value, json};

/// The result of a command that ran to its end.
pub(crate) struct Outcome {
    /// For people.
    pub(crate) lines: Vec<String>,
    /// The same for programs.
    pub(crate) json: Value,
    /// Undecided parcels, where those make the command exit with 4.
    pub(crate) undecided: usize,
}

/// Writes to standard output. A reader that has seen enough and closes the pipe is no failure.
pub(crate) fn print(text: &str) -> io::Result<()> {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        other => other,
    }
}

pub(crate) fn print_json(value: &Value) -> io::Result<()> {
    print(&format!("{value:#}\n"))
}

pub(crate) fn problems_json(problems: &[Problem]) -> Value {
    let problem = |problem: &Problem| {
        json!({
            "file": problem.file,
            "layer": problem.layer,
            "at": problem.at.as_ref().map(At::kind),
            "feature": problem.at.as_ref().map(At::name),
            "found": problem.found,
            "expected": problem.expected,
            "hint": problem.hint,
        })
    };
    json!({ "problems": problems.iter().map(problem).collect::<Vec<_>>() })
}
