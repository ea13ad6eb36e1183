//! Cuts: barriers lowered so that a depression drains to lower ground.

mod cut_path;
mod pond;
mod search;
mod seeker;
mod squares;

use std::collections::BTreeMap;

use fallwright_units::Cell;

pub use cut_path::CutPath;
pub use pond::{Storage, storage};
pub(crate) use seeker::Seekers;

/// The largest cut that may be made, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CutLimits {
    /// Along the ground that has to be lowered.
    pub longest_m: f64,
    pub deepest_m: f64,
}

impl CutLimits {
    /// Whether any cut can be within the limits.
    pub fn allow_any(&self) -> bool {
        self.longest_m > 0.0 && self.deepest_m > 0.0
    }
}

/// A barrier that was lowered.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    pub way: CutPath,
    /// Bed level of each cell of the path, metres; never above the ground.
    pub bed: Vec<f32>,
    /// Greatest lowering, metres.
    pub depth_m: f64,
    /// Σ lowering over the path, metres; times a cell's area the volume.
    pub lowering_m: f64,
    /// The first cell of the filled depression that the pit lies in; the pit itself where depressions are not asked for
    /// ([`crate::Keep`]).
    pub depression: Cell,
}

/// The bed of every cell that some cut lowers: the lowest of all cuts.
pub fn cut_beds(cuts: &[Cut]) -> BTreeMap<Cell, f32> {
    let mut beds = BTreeMap::new();
    for (&cell, &level) in cuts.iter().flat_map(|cut| cut.way.path.iter().zip(&cut.bed)) {
        beds.entry(cell).and_modify(|bed: &mut f32| *bed = bed.min(level)).or_insert(level);
    }
    beds
}
