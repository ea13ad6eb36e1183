//! Fallwright as a library: reads a case, wires the steps and assembles the facts.
//!
//! One function per command: [`check`], [`outlets`], [`capacity`], [`watershed`], [`trace`], [`terrain`], [`sheets`]. Each takes paths and
//! [`Settings`], tells its steps through a callback, and returns a report to print; files are written all at once or not
//! at all.
//!
//! Reading order: [`case`] is the case file; `inputs` reads and checks the layers it names; `ground` conditions the
//! terrain; `facts` measures what the law asks; `outlets` runs the main job.

mod capacity;
pub mod case;
mod check;
mod facts;
mod failure;
mod ground;
mod inputs;
mod nearest;
mod outlets;
mod output;
mod place;
mod run_record;
mod share_cells;
mod sheets;
mod study;
mod summary;
mod suspect;
mod terrain;
mod trace;
mod watershed;
mod works;

pub use capacity::{AddedLand, CapacityReport, capacity};
pub use check::{CheckReport, check};
pub use failure::{Failure, Settings};
pub use fallwright_geodata::{Problem, remove_partial_output};
pub use fallwright_report::Paper;
pub use outlets::{OutletsExtras, OutletsReport, outlets};
pub use place::MapPoint;
pub use sheets::{SheetParcels, SheetsOptions, SheetsReport, sheets};
pub use terrain::{TerrainOptions, TerrainReport, terrain};
pub use trace::{TraceFrom, TraceReport, trace};
pub use watershed::{WatershedAt, WatershedReport, watershed};

/// Told at the start of each step, in plain words.
pub type Progress<'a> = &'a (dyn Fn(&str) + Sync);

/// Follows work that knows how much of it is done.
pub trait Watch: Sync {
    /// The next step begins; in plain words.
    fn step(&self, words: &str);

    /// The part of the whole that is done, 0 to 1, by the time that it takes; an estimate.
    fn part_done(&self, part: f64);
}

/// Told of the steps alone.
impl<F: Fn(&str) + Sync> Watch for F {
    fn step(&self, words: &str) {
        self(words);
    }

    fn part_done(&self, _: f64) {}
}
