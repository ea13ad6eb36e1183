//! The steps from an elevation model to flow, over rasters in memory or in working files.

use fallwright_geodata::{ElevationRequest, release_free_memory};
use fallwright_terrain::tiled::{self, Count, Raised, TILE_SIDE, Tiling};
use fallwright_terrain::{ConditionedIn, Conditioning, Cut, CutLimits, Keep, Links, Store, StoredValue, condition_in};
use fallwright_units::{Frame, TileSource};

use super::cut_tally::CutTally;
use super::meter::Step;
use super::store::RunStore;
use super::{Run, TerrainOptions};
use crate::Error;
use fallwright_case::no_land;

/// The cells that drain through each cell; wide where there are more cells than 32 bits count.
pub(super) enum Area<S: Store> {
    Narrow(S::Raster<u32>),
    Wide(S::Raster<u64>),
}

/// Conditioned ground and the flow over it.
pub(super) struct Results<S: Store> {
    pub(super) surface: S::Raster<f32>,
    pub(super) direction: S::Raster<u8>,
    pub(super) area: Area<S>,
    pub(super) raised: Raised,
    pub(super) cuts: CutTally,
}

impl TerrainOptions {
    pub(super) fn limits(&self) -> Option<CutLimits> {
        let limits = CutLimits { longest_m: self.longest_cut_m, deepest_m: self.deepest_cut_m };
        Some(limits).filter(CutLimits::allow_any)
    }
}

impl Run<'_> {
    pub(super) fn work<S: RunStore>(&self, store: &S, request: &ElevationRequest) -> Result<Results<S>, Error> {
        let frame = self.description.frame;
        release_free_memory();
        store.meter().begin(Step::Reading);
        let elevation = store.elevation(request, frame)?;
        self.check_land(&frame, &elevation)?;
        let known = Conditioning { cuts: self.options.limits(), ..Conditioning::default() };
        let tally = |cuts: Vec<Cut>| CutTally::of(&frame, &cuts);
        let conditioned = condition_in(store, elevation, known, Keep::Surface, tally).map_err(Into::into)?;
        let ConditionedIn { surface, direction, raised, cuts, .. } = conditioned;
        release_free_memory();
        store.meter().begin(Step::Counting);
        let area = match u32::try_from(frame.len()) {
            Ok(_) => count(store, frame, &direction).map(Area::Narrow),
            Err(_) => count(store, frame, &direction).map(Area::Wide),
        };
        Ok(Results { surface, direction, area: area.map_err(Into::into)?, raised, cuts: CutTally::sum(cuts) })
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
}

fn count<S: Store, C: Count + StoredValue>(
    store: &S,
    frame: Frame,
    direction: &S::Raster<u8>,
) -> Result<S::Raster<C>, S::Error> {
    let area = store.raster("area", frame)?;
    tiled::accumulate(&Tiling { frame, side: TILE_SIDE }, direction, &area, &Links::default())?;
    Ok(area)
}
