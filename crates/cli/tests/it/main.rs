//! The command as a user runs it: exit codes, standard output and standard error.

mod demo;
#[cfg(unix)]
mod full_disk;
mod help;
#[cfg(unix)]
mod interrupt;
mod pipeline;
mod refused;
mod streams;
mod terrain;
mod usage;

use std::ffi::OsStr;
use std::process::{Command, Stdio};

/// What a run left behind.
#[derive(Debug)]
struct Ran {
    code: Option<i32>,
    stdout: String,
    stderr: String,
}

fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fallwright"));
    command.stdin(Stdio::null());
    command
}

fn fallwright(args: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Ran {
    let output = command().args(args).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    Ran { code: output.status.code(), stdout: text(output.stdout), stderr: text(output.stderr) }
}
