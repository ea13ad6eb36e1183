//! The flags that every working command takes.

use clap::{ArgAction, Args};
use fallwright::Budget;
use tracing::level_filters::LevelFilter;

use crate::machine;
use crate::size;

const MACHINE: &str = "Machine";
const MESSAGES: &str = "Messages";
pub(crate) const OUTPUT: &str = "Output";

#[derive(Debug, Args)]
pub(crate) struct Common {
    /// Print the result on standard output as JSON
    #[arg(long, help_heading = OUTPUT)]
    pub(crate) json: bool,

    /// Threads to compute with, from 1 to 1024 [default: one for each processor core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = MACHINE)]
    pub(crate) threads: Option<u16>,

    /// Memory to stay within, as 2GiB or 800MB [default: 60 % of the machine's memory]
    #[arg(long, value_name = "SIZE", value_parser = size::parse, help_heading = MACHINE)]
    max_memory: Option<u64>,

    /// Say nothing on standard error but errors
    #[arg(short, long, conflicts_with = "verbose", help_heading = MESSAGES)]
    pub(crate) quiet: bool,

    /// Say more on standard error, twice for everything; trace lists every path
    #[arg(short, long, action = ArgAction::Count, help_heading = MESSAGES)]
    verbose: u8,
}

impl Common {
    pub(crate) fn budget(&self) -> Budget {
        Budget {
            memory_bytes: self.max_memory.unwrap_or_else(machine::default_memory_bytes),
            in_use: Some(machine::resident_bytes),
        }
    }

    /// Whether a listing is to hold everything.
    pub(crate) const fn is_verbose(&self) -> bool {
        self.verbose > 0
    }

    pub(crate) fn level(&self) -> LevelFilter {
        match (self.quiet, self.verbose) {
            (true, _) => LevelFilter::ERROR,
            (false, 0) => LevelFilter::WARN,
            (false, 1) => LevelFilter::INFO,
            (false, _) => LevelFilter::DEBUG,
        }
    }
}
