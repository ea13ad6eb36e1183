//! Fallwright as a library: open a case, ask, write.
//!
//! [`open`] works a case out, from a file; [`study`] does so from a value. The [`Study`] answers questions: [`Study::finding`] on one
//! parcel, [`Study::leaving`] and [`Study::arriving`] for the water of a place, [`Study::watershed`], [`Study::capacity`], [`Study::petition`] for a count of signatures,
//! [`Study::standings`] for the main job. Answers are typed values. [`report`] makes words, layers, tables and sheets of them.
//!
//! [`commands`] holds one function for each command of the program: open, ask, write.
//!
//! ```
//! # fn main() -> Result<(), fallwright::Error> {
//! # let folder = tempfile::tempdir().expect("a temporary folder");
//! # fallwright_demo::write_case(folder.path(), true).expect("the demonstration case");
//! # let case_file = folder.path().join("case.toml");
//! use fallwright::{Budget, Place};
//!
//! let budget = Budget::of(2 << 30);
//! let study = fallwright::open(&case_file, &budget, &|step| eprintln!("{step}"))?;
//! let watershed = study.watershed(&Place::Outlet("D-07".to_owned()), 0.0)?;
//! assert!(watershed.lands.len() > 10);
//! # Ok(())
//! # }
//! ```

pub mod commands;
mod error;

use std::path::Path;
use std::sync::Arc;

pub use error::{Error, ErrorKind};
pub use fallwright_case::{At, Budget, CaseFile, DEEPEST_CUT_M, Estimate, Inputs, LONGEST_CUT_M, Problem, Progress};
pub use fallwright_geodata::remove_partial_output;
pub use fallwright_law::petition::RaisedBy;
/// Words, layers, tables, pages and sheets from answers.
pub use fallwright_report as report;
pub use fallwright_report::{OutletsExtras, Output, Paper, SheetParcels, SheetsOptions};
pub use fallwright_study::{AddedLand, LeavingFrom, MapPoint, Place, Standings, Study, StudyError};

/// Follows work that knows how much of it is done.
pub trait Watch: Sync {
    /// The next step begins; in plain words.
    fn step(&self, words: &str);

    /// The part of the whole that is done, 0 to 1, by the time that it takes; an estimate.
    fn part_done(&self, part: f64);
}

/// Follows the steps alone.
impl<F: Fn(&str) + Sync> Watch for F {
    fn step(&self, words: &str) {
        self(words);
    }

    fn part_done(&self, _: f64) {}
}

/// Reads a case file with all layers that it names, and works the case out.
///
/// # Errors
/// Every fault of the input; too little memory; an elevation without data.
pub fn open(case_file: &Path, budget: &Budget, progress: Progress) -> Result<Study, Error> {
    study(Inputs::open(case_file, budget, progress)?, progress)
}

/// Works a case out from its inputs; [`Inputs::read`] reads them for a [`CaseFile`] that need not be a file.
///
/// # Errors
/// An elevation without data; culverts without any sign of which way they run.
pub fn study(inputs: Inputs, progress: Progress) -> Result<Study, Error> {
    Ok(Study::of(Arc::new(inputs), progress)?)
}
