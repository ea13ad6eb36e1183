//! What the report says of cuts, added up tile by tile.

use fallwright_terrain::Cut;
use fallwright_terrain::tiled::PARTS_A_METRE;
use fallwright_units::{Cell, Frame};

use fallwright_study::{first_lowered, is_embankment};

/// Totals of the cuts, and the culverts that they are suspected to be.
#[derive(Default)]
pub(super) struct CutTally {
    pub(super) cuts: usize,
    /// Σ lowering in parts of a metre, so that no order of adding matters; see [`PARTS_A_METRE`].
    lowering: u128,
    pub(super) suspected: Vec<Suspected>,
}

/// A culvert suspected by shape.
pub(super) struct Suspected {
    pub(super) middle: Cell,
    pub(super) depth_m: f64,
    /// The first cell that the cut lowers: what drains through it is released.
    pub(super) releases: Cell,
}

impl CutTally {
    pub(super) fn of(frame: &Frame, cuts: &[Cut]) -> Self {
        let parts = |cut: &Cut| (cut.lowering_m * PARTS_A_METRE) as u128;
        let suspected = cuts.iter().filter(|cut| is_embankment(frame, &cut.way.path, &cut.way.levels, cut.depth_m));
        let suspected = suspected.map(|cut| Suspected {
            middle: cut.way.path[cut.way.path.len() / 2],
            depth_m: cut.depth_m,
            releases: first_lowered(cut).expect("a deep cut lowers some cell"),
        });
        Self { cuts: cuts.len(), lowering: cuts.iter().map(parts).sum(), suspected: suspected.collect() }
    }

    /// What several tiles have together.
    pub(super) fn sum(tiles: Vec<Self>) -> Self {
        tiles.into_iter().fold(Self::default(), |mut sum, tile| {
            sum.cuts += tile.cuts;
            sum.lowering += tile.lowering;
            sum.suspected.extend(tile.suspected);
            sum
        })
    }

    pub(super) fn lowering_m(&self) -> f64 {
        self.lowering as f64 / PARTS_A_METRE
    }
}
