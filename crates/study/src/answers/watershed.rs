//! The watershed of a waterway, a structure or a point: by reach, by land, and against the drain's schedule.

mod lands;
mod parts;
mod tally;

pub use lands::{Comparison, LandInWatershed, WatershedLand};
pub use parts::{WatershedPart, WatershedParts};
pub use tally::{Cells, Tally, sum};

use crate::error::StudyError;
use crate::place::Place;
use crate::study::Study;

/// A watershed in parts, with the lands in it.
pub struct Watershed {
    pub parts: WatershedParts,
    pub tally: Tally,
    /// Every land with water in it and every land of the drain's schedule.
    pub lands: Vec<LandInWatershed>,
}

impl Study {
    /// The watershed of an outlet or a point. A point may move to the main channel within `snap_m` metres.
    ///
    /// *Complexity*: O(n) for n cells.
    ///
    /// # Errors
    /// An unknown outlet, a point without elevation, a place of another kind.
    pub fn watershed(&self, place: &Place, snap_m: f64) -> Result<Watershed, StudyError> {
        let parts = parts::parts(self, place, snap_m)?;
        let tally = Tally::of(self, &parts);
        let lands = lands::lands(self, &parts, &tally);
        Ok(Watershed { parts, tally, lands })
    }
}
