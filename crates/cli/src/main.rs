//! The `fallwright` command: arguments, progress, exit codes, nothing else.
//!
//! Data goes to standard output, everything else to standard error.

mod added_land;
mod cli;
mod commands;
mod common;
mod date;
mod exit;
mod failure;
mod interrupt;
mod log;
mod machine;
mod metres;
mod outcome;
mod output;
mod place;
mod point;
mod progress;
mod run;
mod size;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let exit = cli::Cli::parse().run();
    interrupt::wait_if_interrupted();
    exit.into()
}
