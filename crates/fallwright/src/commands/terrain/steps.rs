//! The steps from an elevation model to flow, over rasters in memory or in working files.

use fallwright_geodata::{ElevationRequest, ScratchValue, release_free_memory};
use fallwright_terrain::tiled::{self, Count, Known, Raised, TILE_SIDE, Tiling};
use fallwright_terrain::{CutLimits, Links};
use fallwright_units::{Frame, TileSource};

use super::cutting::{CutTally, cut};
use super::meter::Step;
use super::store::Store;
use super::{Run, TerrainOptions, memory};
use crate::Error;
use fallwright_case::no_land;

/// Conditioned ground and the flow over it.
pub(super) struct Conditioned<S: Store> {
    pub(super) surface: S::Raster<f32>,
    pub(super) direction: S::Raster<u8>,
    pub(super) raised: Raised,
    pub(super) cuts: CutTally,
}

/// The cells that drain through each cell; wide where there are more cells than 32 bits count.
pub(super) enum Area<S: Store> {
    Narrow(S::Raster<u32>),
    Wide(S::Raster<u64>),
}

pub(super) struct Results<S: Store> {
    pub(super) conditioned: Conditioned<S>,
    pub(super) area: Area<S>,
}

impl TerrainOptions {
    pub(super) fn limits(&self) -> Option<CutLimits> {
        let limits = CutLimits { longest_m: self.longest_cut_m, deepest_m: self.deepest_cut_m };
        Some(limits).filter(CutLimits::allow_any)
    }
}

impl Run<'_> {
    pub(super) fn work<S: Store>(&self, store: &S, request: &ElevationRequest) -> Result<Results<S>, Error> {
        let frame = self.description.frame;
        begin(store, Step::Reading);
        let elevation = store.elevation(request, frame)?;
        self.check_land(&frame, &elevation)?;
        let conditioned = self.conditioned(store, elevation)?;
        begin(store, Step::Counting);
        let direction = &conditioned.direction;
        let area = match u32::try_from(frame.len()) {
            Ok(_) => count(store, frame, direction).map(Area::Narrow),
            Err(_) => count(store, frame, direction).map(Area::Wide),
        };
        Ok(Results { area: area.map_err(Into::into)?, conditioned })
    }

    fn check_land<E: Into<Error>>(
        &self,
        frame: &Frame,
        elevation: &impl TileSource<f32, Error = E>,
    ) -> Result<(), Error> {
        let tiling = Tiling { frame: *frame, side: TILE_SIDE };
        let mut heights = vec![0.0; TILE_SIDE * TILE_SIDE];
        for window in (0..tiling.len()).map(|tile| tiling.window(tile)) {
            let heights = &mut heights[..window.len()];
            elevation.read(window, heights, window.cols).map_err(Into::into)?;
            if let Some(problem) = no_land(heights, &self.dem.display().to_string()) {
                return Err(Error::Refused(vec![problem]));
            }
        }
        Ok(())
    }

    fn conditioned<S: Store>(&self, store: &S, elevation: S::Raster<f32>) -> Result<Conditioned<S>, Error> {
        let frame = self.description.frame;
        let tiling = Tiling { frame, side: TILE_SIDE };
        let mut surface = elevation;
        let mut cuts = CutTally::default();
        if let Some(limits) = self.options.limits() {
            let filled = store.raster("surface", frame).map_err(Into::into)?;
            begin(store, Step::FillingToCut);
            self.fill::<S>(&tiling, &surface, &filled)?;
            begin(store, Step::Cutting);
            cuts = cut(&tiling, &surface, &filled, limits).map_err(Into::into)?;
            // The ground before cutting is no longer needed.
            surface = filled;
        }
        begin(store, Step::Filling);
        let raised = self.fill::<S>(&tiling, &surface, &surface)?;
        begin(store, Step::Directions);
        let direction = store.raster("direction", frame).map_err(Into::into)?;
        let known = Known { links: &Links::default(), sinks: &[], channels: &[] };
        tiled::directions(&tiling, &surface, &direction, known).map_err(Into::into)?;
        Ok(Conditioned { surface, direction, raised, cuts })
    }

    fn fill<S: Store>(
        &self,
        tiling: &Tiling,
        ground: &S::Raster<f32>,
        surface: &S::Raster<f32>,
    ) -> Result<Raised, Error> {
        let links = Links::default();
        let tiles = tiled::basins(tiling, ground, &links, &[]).map_err(Into::into)?;
        let passes: usize = tiles.iter().map(|tile| tile.passes.len() + tile.ring.len()).sum();
        self.check_room::<S>(passes as u64 * memory::PER_PASS)?;
        let levels = tiled::spill_levels(tiling, &tiles, &links).expect("without structures none is blocked");
        drop(tiles);
        tiled::raise(tiling, ground, surface, &links, &[], &levels).map_err(Into::into)
    }

    /// Only a run over working files has little room: in memory the cells themselves take far more.
    fn check_room<S: Store>(&self, bytes: u64) -> Result<(), Error> {
        if S::ON_FILE { memory::check_room(self, bytes) } else { Ok(()) }
    }
}

/// Begins a step without the memory that the one before has given up.
fn begin<S: Store>(store: &S, step: Step) {
    release_free_memory();
    store.meter().begin(step);
}

fn count<S: Store, C: Count + ScratchValue>(
    store: &S,
    frame: Frame,
    direction: &S::Raster<u8>,
) -> Result<S::Raster<C>, S::Error> {
    let area = store.raster("area", frame)?;
    tiled::accumulate(&Tiling { frame, side: TILE_SIDE }, direction, &area, &Links::default())?;
    Ok(area)
}
