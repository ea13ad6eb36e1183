//! Barriers cut tile by tile, and what is told of them.

use fallwright_terrain::tiled::{self, PARTS_A_METRE, Tiling};
use fallwright_terrain::{Cut, CutLimits, Links};
use fallwright_units::{Cell, Frame, TileSink, TileSource};

use fallwright_study::{first_lowered, is_embankment};

/// What is told of the cuts.
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
    fn of(frame: &Frame, cuts: &[Cut]) -> Self {
        let parts = |cut: &Cut| (cut.lowering_m * PARTS_A_METRE) as u128;
        let suspected = cuts.iter().filter(|cut| is_embankment(frame, &cut.way.path, &cut.way.levels, cut.depth_m));
        let suspected = suspected.map(|cut| Suspected {
            middle: cut.way.path[cut.way.path.len() / 2],
            depth_m: cut.depth_m,
            releases: first_lowered(cut).expect("a deep cut lowers some cell"),
        });
        Self { cuts: cuts.len(), lowering: cuts.iter().map(parts).sum(), suspected: suspected.collect() }
    }

    fn add(&mut self, other: Self) {
        self.cuts += other.cuts;
        self.lowering += other.lowering;
        self.suspected.extend(other.suspected);
    }

    pub(super) fn lowering_m(&self) -> f64 {
        self.lowering as f64 / PARTS_A_METRE
    }
}

/// Finds the cuts of the `ground`, of which `surface` is the filled surface, and makes `surface` the ground with the cuts.
pub(super) fn cut<E: Send>(
    tiling: &Tiling,
    ground: &impl TileSource<f32, Error = E>,
    surface: &impl TileSink<f32, Error = E>,
    limits: CutLimits,
) -> Result<CutTally, E> {
    let pits = tiled::pits(tiling, ground, surface)?;
    let take = |tile: usize, cuts: Vec<Cut>| {
        let beyond = tiled::lower(tiling, tile, &cuts, ground, surface)?;
        Ok((CutTally::of(&tiling.frame, &cuts), beyond))
    };
    let tiles = tiled::cuts(tiling, ground, &pits, &Links::default(), limits, take)?;
    let mut tally = CutTally::default();
    let mut beds = Vec::with_capacity(tiles.iter().map(|(_, beyond)| beyond.len()).sum());
    for (tile, beyond) in tiles {
        tally.add(tile);
        beds.extend(beyond);
    }
    tiled::lower_beyond(tiling, surface, beds)?;
    Ok(tally)
}
