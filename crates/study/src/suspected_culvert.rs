//! Suspected culverts: places where a road, a lane or a railway holds water back in the elevation and a culvert may be
//! missing from the data.

use std::collections::BTreeMap;

use fallwright_network::{Party, Setting};
use fallwright_terrain::{Cut, Depression};
use fallwright_units::{Cell, CellSet, Frame, Raster};
use rayon::prelude::*;

use crate::bank::{Bank, low_ground_beyond_bank};
use crate::ground::spills_over_road;

/// A cut through an embankment or a road is at least this deep (our choice): less is the unevenness of the ground.
pub(crate) const LEAST_HELD_BACK_M: f64 = 0.3;
/// Water that stands beside a bank is at least this deep (our choice).
const LEAST_PONDED_M: f64 = 0.2;
/// A large fill is looked at in so many places, evenly along its cells (our choice).
const MOST_PLACES: usize = 200;
/// An embankment falls to half its height within this distance of its crest on both sides (our choice).
const HALF_WIDTH_M: f64 = 15.0;
/// Where a layer shows that water may pass, a cut is this many times as deep as the ground is rough (our choice).
const CUT_PER_ROUGHNESS: f64 = 3.0;
/// Where the shape of the ground is all there is, the bank is this many times as high as the ground is rough (our choice).
const BANK_PER_ROUGHNESS: f64 = 8.0;
/// A channel that ends no farther from a cut may go on beyond it (our choice: half the width of an embankment).
const CHANNEL_END_M: f64 = 15.0;

/// Why a culvert is suspected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CulvertEvidence {
    pub on_road: bool,
    /// The bank that the cut goes through, or that keeps a fill from lower ground; `None` of a fill without one.
    pub bank: Option<Bank>,
    /// Whether that bank is long, high beside the roughness of the ground, narrow, and steep on both sides.
    pub is_embankment: bool,
    /// Whether a mapped channel begins or ends at a narrow rise.
    pub at_channel_end: bool,
}

/// The suspected culverts among the cuts of a terrain, by the pits of their cuts. Revised terrain has the same cuts.
#[derive(Clone, Debug, Default)]
pub(crate) struct SuspectedCulverts(BTreeMap<Cell, CulvertEvidence>);

impl SuspectedCulverts {
    /// *Complexity*: O(p) in the cells of all cuts, and some 10,000 heights for each that is deep enough.
    pub(crate) fn find(setting: &Setting) -> Self {
        let chains = setting.waterways.iter().flat_map(|waterway| &waterway.chains);
        let ends: Vec<Cell> = chains.flat_map(|chain| chain.first().into_iter().chain(chain.last())).copied().collect();
        let evidence = |cut: &Cut| Some((cut.way.path[0], evidence(setting, &ends, cut)?));
        Self(setting.conditioned.cuts.par_iter().filter_map(evidence).collect())
    }

    pub(crate) fn of(&self, cut: &Cut) -> Option<CulvertEvidence> {
        self.0.get(&cut.way.path[0]).copied()
    }

    /// The cells lowered by their cuts.
    pub(crate) fn cells(&self, setting: &Setting) -> CellSet {
        let mut cells = CellSet::new(setting.frame().len());
        for cut in setting.conditioned.cuts.iter().filter(|cut| self.of(cut).is_some()) {
            for cell in lowered(&setting.ground, cut) {
                cells.insert(cell);
            }
        }
        cells
    }
}

/// A cut is a suspected culvert where it goes through a road of the layer, through a narrow rise at which a mapped channel
/// begins or ends, or through ground shaped like an embankment: long, narrow, high, steep on both sides. The rougher the
/// ground around, the deeper the cut is and the higher the embankment.
fn evidence(setting: &Setting, channel_ends: &[Cell], cut: &Cut) -> Option<CulvertEvidence> {
    if cut.depth_m < LEAST_HELD_BACK_M {
        return None;
    }
    let path = &cut.way.path;
    let level = |cell: Cell| setting.ground[cell];
    let crest = path.iter().copied().max_by(|&a, &b| level(a).total_cmp(&level(b)).then(b.cmp(&a)))?;
    let bank = Bank::at(&setting.ground, crest);
    let ground: Vec<f32> = path.iter().map(|&cell| level(cell)).collect();
    let frame = setting.frame();
    let is_narrow = is_embankment(&frame, path, &ground, cut.depth_m);
    let is_near = |&end: &Cell| path.iter().any(|&cell| frame.distance(cell, end) <= CHANNEL_END_M);
    let on_road = lowered(&setting.ground, cut).any(|cell| matches!(setting.parties.of(cell), Party::Road(_)));
    let at_channel_end = is_narrow && channel_ends.iter().any(is_near);
    let is_embankment = is_narrow && bank.height_m >= BANK_PER_ROUGHNESS * bank.roughness_m;
    let is_deep = cut.depth_m >= CUT_PER_ROUGHNESS * bank.roughness_m;
    (is_deep && (on_road || at_channel_end || is_embankment)).then_some(CulvertEvidence {
        on_road,
        bank: Some(bank),
        is_embankment,
        at_channel_end,
    })
}

/// A fill is a suspected culvert where its water spills over a road of the layer, or where a bank keeps it from lower ground
/// near by while it runs off another way, as along the ditch of a road: by a road of the layer, or by the shape of the bank, each
/// beside the roughness of the ground as for a cut.
///
/// *Complexity*: O(c + p) in its cells and those of the path over which it spills, and at most some 200,000 heights.
pub(crate) fn evidence_of_fill(setting: &Setting, fill: &Depression) -> Option<CulvertEvidence> {
    let spills = fill.depth_m >= LEAST_HELD_BACK_M && spills_over_road(&setting.conditioned, &setting.parties, fill);
    let crest = bank_beside(setting, fill);
    let bank = crest.map(|crest| Bank::at(&setting.ground, crest));
    let on_road = spills || crest.is_some_and(|crest| matches!(setting.parties.of(crest), Party::Road(_)));
    let is_embankment = bank.is_some_and(|bank| bank.height_m >= BANK_PER_ROUGHNESS * bank.roughness_m);
    let is_deep = bank.is_some_and(|bank| fill.depth_m >= CUT_PER_ROUGHNESS * bank.roughness_m);
    let is_suspected = spills || is_deep && (on_road || is_embankment);
    is_suspected.then_some(CulvertEvidence { on_road, bank, is_embankment, at_channel_end: false })
}

/// The crest of the bank that keeps the water of a fill from lower ground, where that is nearest.
fn bank_beside(setting: &Setting, fill: &Depression) -> Option<Cell> {
    let low_m = fill.level_m - LEAST_PONDED_M;
    let deep: Vec<Cell> = fill.cells.iter().copied().filter(|&cell| f64::from(setting.ground[cell]) <= low_m).collect();
    let places = deep.iter().step_by(deep.len().div_ceil(MOST_PLACES).max(1));
    let beyond = places.filter_map(|&place| low_ground_beyond_bank(&setting.ground, place, (fill.level_m, low_m)));
    beyond.min_by(|a, b| a.distance_m.total_cmp(&b.distance_m)).map(|found| found.crest)
}

/// Cells whose water a cut releases: those that drain through the first cell it lowers.
pub(crate) fn released<C: Copy + Into<u64>>(ground: &Raster<f32>, area: &Raster<C>, cut: &Cut) -> u64 {
    lowered(ground, cut).next().map_or(0, |cell| area[cell].into())
}

/// The cells of a cut whose ground was lowered.
pub(crate) fn lowered<'a>(ground: &'a Raster<f32>, cut: &'a Cut) -> impl Iterator<Item = Cell> + 'a {
    cut.way.path.iter().zip(&cut.bed).filter(|&(&cell, &bed)| bed < ground[cell]).map(|(&cell, _)| cell)
}

/// The first cell that a cut lowers below the surface that it was searched on.
pub fn first_lowered(cut: &Cut) -> Option<Cell> {
    let levels = cut.bed.iter().zip(&cut.way.levels);
    levels.zip(&cut.way.path).find(|((bed, level), _)| bed < level).map(|(_, &cell)| cell)
}

/// Whether a cut of some depth, in metres, goes deep enough through ground that is narrow and steep on both sides. Its
/// height is taken from the pit, and its width at half that height: a ditch whose bed lies here and there above the pit
/// makes no embankment wider. `ground` is the level of each cell of the path, metres.
pub fn is_embankment(frame: &Frame, path: &[Cell], ground: &[f32], depth_m: f64) -> bool {
    let profile = profile(frame, path, ground);
    let Some(&(crest_at, crest)) = profile.iter().max_by(|a, b| a.1.total_cmp(&b.1)) else { return false };
    let height = crest - f64::from(ground[0]);
    let foot = |side: &dyn Fn(f64) -> bool| {
        profile.iter().any(|&(at, z)| side(at) && (at - crest_at).abs() <= HALF_WIDTH_M && crest - z >= height / 2.0)
    };
    depth_m >= LEAST_HELD_BACK_M && foot(&|at| at < crest_at) && foot(&|at| at > crest_at)
}

/// Metres along a path and the ground there, metres.
fn profile(frame: &Frame, path: &[Cell], ground: &[f32]) -> Vec<(f64, f64)> {
    let mut at = 0.0;
    let mut before = path[0];
    let mut along = |(&cell, &level): (&Cell, &f32)| {
        at += frame.distance(before, cell);
        before = cell;
        (at, f64::from(level))
    };
    path.iter().zip(ground).map(&mut along).collect()
}
