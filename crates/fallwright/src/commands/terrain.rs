//! Terrain alone: conditioned surface, flow direction and area draining of one elevation raster.

mod account;
mod cut_tally;
mod memory;
mod meter;
mod steps;
mod store;
#[cfg(test)]
mod tests;

use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::{
    ElevationDescription, ElevationRequest, OutputFolder, TileValues, describe_elevation, limit_cache,
};
use fallwright_terrain::{Flow, Links};
use fallwright_units::VerticalUnit;
use serde_json::json;

use crate::{Error, Watch};
use fallwright_case::Budget;
use fallwright_report::counts::TerrainCounts;
use fallwright_report::{Output, RunRecord, SPREAD, area_meta, digest, direction_meta, ground_meta, write_spread};
use memory::Cap;
use meter::{Meter, Step, StoreKind};
use steps::{Area, Results};
use store::{Files, MeteredMemory, RunStore};

/// What to do with one raster.
#[derive(Clone, Copy, Debug, Default)]
pub struct TerrainOptions {
    /// Where the raster does not say.
    pub vertical_unit: Option<VerticalUnit>,
    /// Longest and deepest cut through a barrier, metres; 0 cuts nothing.
    pub longest_cut_m: f64,
    pub deepest_cut_m: f64,
    /// Whether to write `area_draining_spread.tif` too.
    pub spread: bool,
}

/// Conditions one raster and writes `ground.tif`, `direction.tif`, `area_draining.tif` and `run.json`.
///
/// A raster may be larger than the memory allowed, unless the spread picture is wanted: then it is worked on in files in the
/// output folder, with the same results.
///
/// # Errors
/// Faults of the raster, or too little memory; an output folder that cannot be written, or too little space in it.
pub fn terrain(
    dem: &Path,
    options: &TerrainOptions,
    output: &Output,
    budget: &Budget,
    watch: &dyn Watch,
) -> Result<TerrainCounts, Error> {
    limit_cache(budget.cache_bytes());
    let files = [dem.to_path_buf()];
    let vertical_unit = options.vertical_unit;
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes: u64::MAX };
    let description = describe_elevation(&request)?;
    let run = Run { dem, options, output, budget, description };
    if memory::in_memory(&run) <= budget.memory_bytes {
        run.in_memory(&request, watch)
    } else {
        memory::check_on_file(&run)?;
        run.on_file(&request, watch)
    }
}

/// One run of the command.
struct Run<'a> {
    dem: &'a Path,
    options: &'a TerrainOptions,
    output: &'a Output<'a>,
    budget: &'a Budget,
    description: ElevationDescription,
}

impl Run<'_> {
    fn in_memory(&self, request: &ElevationRequest, watch: &dyn Watch) -> Result<TerrainCounts, Error> {
        let mut folder = self.output.open(&[self.dem])?;
        let meter = Meter::new(self, StoreKind::Memory, watch);
        let results = self.work(&MeteredMemory { meter: &meter }, request)?;
        let counts = self.write(&mut folder, &results, &meter)?;
        let Results { surface, direction, area, .. } = results;
        drop(area);
        if self.options.spread {
            let surface = surface.raster.into_raster();
            let flow = Flow { direction: direction.raster.into_raster(), links: Links::default() };
            write_spread(&mut folder, &surface, &flow, &self.description.crs)?;
        }
        self.finish(folder, counts)
    }

    fn on_file(&self, request: &ElevationRequest, watch: &dyn Watch) -> Result<TerrainCounts, Error> {
        let mut folder = self.output.open(&[self.dem])?;
        folder.require_space(memory::disk(&self.description.frame))?;
        let meter = Meter::new(self, StoreKind::Files, watch);
        let files = Files { run: self, folder: folder.scratch(), cap: Arc::new(Cap::of(self)), meter: &meter };
        let results = self.work(&files, request)?;
        let counts = self.write(&mut folder, &results, &meter)?;
        drop(results);
        self.finish(folder, counts)
    }

    fn write<S: RunStore>(
        &self,
        folder: &mut OutputFolder,
        results: &Results<S>,
        meter: &Meter,
    ) -> Result<TerrainCounts, Error> {
        meter.begin(Step::Writing);
        let crs = &self.description.crs;
        folder.write_tiles("ground.tif", crs, &TileValues::F32(&results.surface), &ground_meta())?;
        folder.write_tiles("direction.tif", crs, &TileValues::U8(&results.direction), &direction_meta())?;
        let (values, counts) = match &results.area {
            Area::Narrow(area) => (TileValues::U32(area), account::counts(&results.raised, &results.cuts, area)),
            Area::Wide(area) => (TileValues::U64(area), account::counts(&results.raised, &results.cuts, area)),
        };
        folder.write_tiles("area_draining.tif", crs, &values, &area_meta())?;
        if !self.options.spread {
            folder.leave_out(SPREAD);
        }
        counts.map_err(Into::into)
    }

    /// Writes the record of the run and puts everything in place.
    fn finish(&self, mut folder: OutputFolder, counts: TerrainCounts) -> Result<TerrainCounts, Error> {
        let name = self.dem.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let settings = json!({
            "crs": self.description.crs.label(),
            "vertical_unit": self.description.vertical_unit.name(),
            "longest_cut_m": self.options.longest_cut_m,
            "deepest_cut_m": self.options.deepest_cut_m,
        });
        let record = RunRecord { command: "terrain", settings, counts: &counts, notes: &[] };
        record.write(&mut folder, vec![(name, digest(self.dem)?)])?;
        folder.commit()?;
        Ok(counts)
    }
}
