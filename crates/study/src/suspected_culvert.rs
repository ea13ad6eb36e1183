//! Suspected culverts: places where a road, a lane or a railway holds water back in the elevation and a culvert may be
//! missing from the data.

use fallwright_network::{Party, Setting};
use fallwright_terrain::Cut;
use fallwright_units::{Cell, CellSet, Frame, Raster};

/// A cut through an embankment or a road is at least this deep (our choice): less is the unevenness of the ground.
pub(crate) const LEAST_HELD_BACK_M: f64 = 0.3;
/// An embankment falls to half its height within this distance of its crest on both sides (our choice).
const HALF_WIDTH_M: f64 = 15.0;

/// Whether a cut goes deep enough through a road of the layer, or through ground shaped like an embankment: narrow, high,
/// steep on both sides.
pub(crate) fn is_suspected_culvert(setting: &Setting, cut: &Cut) -> bool {
    let on_road = |cell: Cell| matches!(setting.parties.of(cell), Party::Road(_));
    let path = &cut.way.path;
    let ground: Vec<f32> = path.iter().map(|&cell| setting.ground[cell]).collect();
    cut.depth_m >= LEAST_HELD_BACK_M && lowered(&setting.ground, cut).any(on_road)
        || is_embankment(&setting.frame(), path, &ground, cut.depth_m)
}

/// Cells whose water a cut releases: those that drain through the first cell it lowers.
pub(crate) fn released<C: Copy + Into<u64>>(ground: &Raster<f32>, area: &Raster<C>, cut: &Cut) -> u64 {
    lowered(ground, cut).next().map_or(0, |cell| area[cell].into())
}

/// The cells lowered by cuts that may be culverts.
pub(crate) fn suspected_cells(setting: &Setting) -> CellSet {
    let mut cells = CellSet::new(setting.frame().len());
    for cut in setting.conditioned.cuts.iter().filter(|cut| is_suspected_culvert(setting, cut)) {
        for cell in lowered(&setting.ground, cut) {
            cells.insert(cell);
        }
    }
    cells
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
