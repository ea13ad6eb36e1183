//! Cuts: barriers lowered so that a depression drains to lower ground.

use fallwright_units::Cell;

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

/// The path that a cut lowers: the one of least rise from a pit to lower ground.
#[derive(Clone, Debug, PartialEq)]
pub struct CutPath {
    /// From the pit to the first cell of lower ground, both included.
    pub path: Vec<Cell>,
    /// Level of each cell of the path, metres.
    pub levels: Vec<f32>,
    /// Σ max(0, z − pit) over the path, metres.
    pub rise_sum_m: f64,
    pub length_m: f64,
    /// Along the ground higher than the pit by more than its unevenness, 0.1 m.
    pub barrier_m: f64,
}
