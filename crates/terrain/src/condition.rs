//! The steps from ground to flow, in their order.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Raster, SharedRaster, TileSink, TileSource, Window};
use thiserror::Error;

use crate::channel::channel_bed;
use crate::channel_course::{ChannelCourses, Directed};
use crate::cut::{Cut, CutLimits};
use crate::flow::Flow;
use crate::link::Links;
use crate::store::{ConditioningStep, Memory, Store};
use crate::tiled::{self, Bed, Cutting, FillError, Filling, FlowConstraints, Raised, TILE_SIDE, Tiling, value};

/// What is known of the ground besides its elevation.
#[derive(Clone, Debug, Default)]
pub struct Conditioning {
    /// Mapped open channels as consecutive cells, drawn downstream.
    pub channels: Vec<Vec<Cell>>,
    /// Surveyed bed level of cells of the channels, metres.
    pub surveyed_beds: BTreeMap<Cell, f32>,
    pub links: Links,
    /// The lowest cell of each kept depression.
    pub sinks: Vec<Cell>,
    /// How large a cut may be; without it nothing is cut.
    pub cuts: Option<CutLimits>,
    /// Pits that are not to be cut open.
    pub uncut: BTreeSet<Cell>,
}

/// The surfaces that conditioning leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// The filled surface alone: no second one is there but while cuts are searched.
    Surface,
    /// The ground with channel beds and cuts too, and which depression each cut drains.
    EnforcedAndSurface,
}

/// The conditioned surface and the flow over it, in a store; `R` is what was made of the cuts of each tile.
pub struct ConditionedIn<S: Store, R> {
    /// Ground with channel beds and cuts, before filling, where it is kept; metres.
    pub enforced: Option<S::Raster<f32>>,
    /// The same with depressions filled; metres.
    pub surface: S::Raster<f32>,
    /// Codes of [`crate::direction`].
    pub direction: S::Raster<u8>,
    /// Links that carry water somewhere.
    pub links: Links,
    /// Inlets of links that could carry no water anywhere and were left out.
    pub blocked: Vec<Cell>,
    /// Bed level given to each channel cell, metres.
    pub bed: BTreeMap<Cell, f32>,
    /// By tile.
    pub cuts: Vec<R>,
    /// What filling raised.
    pub raised: Raised,
}

/// The conditioned surface and the flow over it, in memory.
#[derive(Clone, Debug)]
pub struct Conditioned {
    /// Ground with channel beds and cuts, before filling; metres.
    pub enforced: Raster<f32>,
    /// The same with depressions filled; metres.
    pub surface: Raster<f32>,
    /// Bed level given to each channel cell, metres.
    pub bed: BTreeMap<Cell, f32>,
    /// Barriers lowered, in the order of their pits.
    pub cuts: Vec<Cut>,
    pub flow: Flow,
    /// Inlets of links that could carry no water anywhere and were left out.
    pub blocked: Vec<Cell>,
}

#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum ConditionError {
    #[error("the raster has no cell with an elevation")]
    NoData,
}

/// [`condition_in`] memory, which leaves the ground as it is and keeps all surfaces and cuts.
///
/// # Errors
/// A raster without any elevation.
pub fn condition(ground: &Raster<f32>, known: Conditioning) -> Result<Conditioned, ConditionError> {
    if ground.values.iter().all(|z| z.is_nan()) {
        return Err(ConditionError::NoData);
    }
    let elevation = SharedRaster::new(ground.clone());
    let Ok(done) = condition_in(&Memory, elevation, known, Keep::EnforcedAndSurface, |cuts| cuts);
    let mut cuts: Vec<Cut> = done.cuts.into_iter().flatten().collect();
    cuts.sort_unstable_by_key(|cut| cut.way.path[0]);
    Ok(Conditioned {
        enforced: done.enforced.expect("all surfaces are kept").into_raster(),
        surface: done.surface.into_raster(),
        bed: done.bed,
        cuts,
        flow: Flow { direction: done.direction.into_raster(), links: done.links },
        blocked: done.blocked,
    })
}

/// Enforces channels, cuts barriers where cuts are allowed, fills what remains with the links taking part, and finds flow
/// directions.
///
/// `elevation` is taken over and becomes one of the surfaces. `take` is given the cuts of each tile, in the order of their
/// pits, as soon as they are found. A link that can discharge nowhere is left out, and the surface filled again.
///
/// *Units*: metres, `NaN` = no data. *Assumptions*: no infinite elevations, no negative zero.
///
/// *Memory*: besides the elevation a second surface while cuts are searched, or throughout where the enforced ground is kept;
/// then also the node of each cell while filling.
///
/// # Errors
/// Failures of the store's rasters.
pub fn condition_in<S: Store, R: Send>(
    store: &S,
    elevation: S::Raster<f32>,
    known: Conditioning,
    keep: Keep,
    take: impl Fn(Vec<Cut>) -> R + Sync,
) -> Result<ConditionedIn<S, R>, S::Error> {
    let frame = elevation.frame();
    let tiling = Tiling { frame, side: TILE_SIDE };
    let Conditioning { channels, surveyed_beds, links, sinks, cuts: limits, uncut } = known;
    let bed = channel_bed(&elevation, &channels, &surveyed_beds)?;
    let beds = bed.iter().map(|(&cell, &level)| Bed::new(&tiling, cell, level)).collect();
    tiled::lower(&tiling, &elevation, beds)?;
    let mut work = Work { store, tiling, keep, links, blocked: Vec::new(), sinks };
    let mut enforced = elevation;
    let mut second = None;
    let mut cuts = Vec::new();
    if let Some(limits) = limits.filter(CutLimits::allow_any) {
        let filled = store.raster("surface", frame)?;
        store.begin(ConditioningStep::FillingToCut);
        work.fill(&enforced, &filled)?;
        store.begin(ConditioningStep::Cutting);
        cuts = work.cut(&enforced, &filled, limits, &uncut, take)?;
        second = Some(std::mem::replace(&mut enforced, filled));
    }
    let (enforced, surface, raised) = match keep {
        Keep::Surface => {
            drop(second);
            store.begin(ConditioningStep::Filling);
            let raised = work.fill_in_place(&enforced)?;
            (None, enforced, raised)
        }
        Keep::EnforcedAndSurface => {
            let surface = second.map_or_else(|| store.raster("surface", frame), Ok)?;
            store.begin(ConditioningStep::Filling);
            work.fill(&enforced, &surface)?;
            let raised = tiled::raised(&tiling, &enforced, &surface)?;
            (Some(enforced), surface, raised)
        }
    };
    store.begin(ConditioningStep::Directions);
    let direction = store.raster("direction", frame)?;
    let Work { links, blocked, sinks, .. } = work;
    let constraints = FlowConstraints { links: &links, sinks: &sinks, channels: &channels };
    tiled::directions(&tiling, &surface, &direction, constraints)?;
    follow_channels(&surface, &direction, constraints)?;
    Ok(ConditionedIn { enforced, surface, direction, links, blocked, bed, cuts, raised })
}

/// Turns the directions of channels' cells along their lines.
pub(crate) fn follow_channels<E>(
    surface: &impl TileSource<f32, Error = E>,
    direction: &impl TileSink<u8, Error = E>,
    FlowConstraints { links, sinks, channels }: FlowConstraints,
) -> Result<(), E> {
    let frame = surface.frame();
    let sinks: BTreeSet<Cell> = sinks.iter().copied().collect();
    let courses = ChannelCourses::new(&frame, channels);
    let given = Directed {
        frame: &frame,
        level: |cell| value(surface, cell),
        code: |cell| value(direction, cell),
        links,
        is_sink: &|cell| sinks.contains(&cell),
    };
    for (cell, code) in courses.directions(courses.cells(), &given)? {
        let (col, row) = frame.col_row(cell);
        direction.write(Window { col, row, cols: 1, rows: 1 }, &[code], 1)?;
    }
    Ok(())
}

/// What the steps of one conditioning share.
struct Work<'a, S> {
    store: &'a S,
    tiling: Tiling,
    keep: Keep,
    /// Links that carry water somewhere, as far as is known.
    links: Links,
    blocked: Vec<Cell>,
    sinks: Vec<Cell>,
}

impl<S: Store> Work<'_, S> {
    /// Fills the ground into another raster.
    fn fill(&mut self, ground: &S::Raster<f32>, surface: &S::Raster<f32>) -> Result<(), S::Error> {
        self.with_links_that_drain(|work| match work.keep {
            Keep::Surface => {
                let filling = Filling::new(&work.tiling, &work.links, &work.sinks);
                let levels = work.levels(&filling, ground)?;
                let finish = |tile: usize| filling.finish(tile, ground, surface, &levels[tile]);
                work.tiling.each_tile(finish).map(drop).map_err(FillError::Tile)
            }
            Keep::EnforcedAndSurface => {
                let node = work.store.raster("node", work.tiling.frame).map_err(FillError::Tile)?;
                tiled::fill(&work.tiling, ground, surface, &node, &work.links, &work.sinks)
            }
        })
    }

    fn fill_in_place(&mut self, surface: &S::Raster<f32>) -> Result<Raised, S::Error> {
        self.with_links_that_drain(|work| {
            let filling = Filling::new(&work.tiling, &work.links, &work.sinks);
            let levels = work.levels(&filling, surface)?;
            let finish = |tile: usize| filling.finish_in_place(tile, surface, &levels[tile]);
            let tiles = work.tiling.each_tile(finish).map_err(FillError::Tile)?;
            Ok(Raised::of(&work.tiling, &tiles))
        })
    }

    /// The levels of the nodes of all tiles.
    fn levels(&self, filling: &Filling, ground: &S::Raster<f32>) -> Result<Vec<Vec<f32>>, FillError<S::Error>> {
        let tiles = self.tiling.each_tile(|tile| filling.solve(tile, ground)).map_err(FillError::Tile)?;
        self.store.admit(&tiles).map_err(FillError::Tile)?;
        filling.join(&tiles).map_err(FillError::BlockedInlets)
    }

    /// Fills, without the links that can discharge nowhere; these are found by filling.
    fn with_links_that_drain<T>(
        &mut self,
        fill: impl Fn(&Self) -> Result<T, FillError<S::Error>>,
    ) -> Result<T, S::Error> {
        loop {
            match fill(self) {
                Ok(filled) => return Ok(filled),
                Err(FillError::Tile(error)) => return Err(error),
                Err(FillError::BlockedInlets(blocked)) => {
                    self.links = self.links.without(&blocked);
                    self.blocked.extend(blocked);
                }
            }
        }
    }

    /// Finds the cuts of the `ground`, of which `surface` is the filled surface, and makes `surface` the ground with the cuts.
    fn cut<R: Send>(
        &self,
        ground: &S::Raster<f32>,
        surface: &S::Raster<f32>,
        limits: CutLimits,
        uncut: &BTreeSet<Cell>,
        take: impl Fn(Vec<Cut>) -> R + Sync,
    ) -> Result<Vec<R>, S::Error> {
        let tiling = &self.tiling;
        let pits = tiled::pits(tiling, ground, surface)?;
        let depressions = match self.keep {
            Keep::Surface => Vec::new(),
            Keep::EnforcedAndSurface => tiled::pit_depressions(tiling, ground, surface, &pits)?,
        };
        let cutting = Cutting::new(tiling, ground, &self.links, limits);
        let visit = |tile: usize| {
            let mut cuts = cutting.solve(tile, &pits[tile])?;
            cuts.retain(|cut| !uncut.contains(&cut.way.path[0]));
            let beyond = cutting.copy_lowered(tile, &cuts, surface)?;
            if let Some(depressions) = depressions.get(tile) {
                set_depressions(tiling, &pits[tile], depressions, &mut cuts);
            }
            Ok((take(cuts), beyond))
        };
        let tiles = tiling.each_tile(visit)?;
        let mut beds = Vec::with_capacity(tiles.iter().map(|(_, beyond)| beyond.len()).sum());
        let mut taken = Vec::with_capacity(tiles.len());
        for (cuts, beyond) in tiles {
            taken.push(cuts);
            beds.extend(beyond);
        }
        tiled::lower(tiling, surface, beds)?;
        Ok(taken)
    }
}

/// Sets the depressions of cuts of one tile, given those of its pits.
fn set_depressions(tiling: &Tiling, pits: &[u32], depressions: &[Cell], cuts: &mut [Cut]) {
    for cut in cuts {
        let pit = tiling.number(cut.way.path[0]);
        cut.depression = depressions[pits.binary_search(&pit).expect("a cut begins at a pit of its tile")];
    }
}
