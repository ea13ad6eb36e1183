//! Terrain alone: conditioned surface, flow direction and area draining of one elevation raster.

mod account;
mod memory;
mod on_file;
#[cfg(test)]
mod tests;

use std::path::Path;

use fallwright_geodata::{
    ElevationDescription, ElevationRequest, OutputFolder, describe_elevation, limit_cache, read_elevation,
};
use fallwright_terrain::tiled::{self, TILE_SIDE, Tiling};
use fallwright_terrain::{Conditioning, CutLimits, accumulation, condition};
use fallwright_units::VerticalUnit;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings, cache_bytes};
use crate::inputs::no_land;
use crate::output::{SPREAD, output_folder, write_spread, write_terrain, write_wide_area};
use crate::run_record::{RunRecord, digest};
use account::Account;

/// What conditioning did.
pub struct TerrainReport {
    summary: Value,
    lines: Vec<String>,
}

impl TerrainReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

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
/// A raster that is only filled may be larger than the memory allowed: then it is worked on in files in the output folder,
/// with the same results.
///
/// # Errors
/// Faults of the raster, or too little memory; an output folder that cannot be written, or too little space in it.
pub fn terrain(
    dem: &Path,
    options: &TerrainOptions,
    out: &Path,
    settings: &Settings,
    progress: Progress,
) -> Result<TerrainReport, Failure> {
    progress("reading the elevation");
    limit_cache(cache_bytes(settings));
    let files = [dem.to_path_buf()];
    let vertical_unit = options.vertical_unit;
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes: u64::MAX };
    let description = describe_elevation(&request)?;
    let run = Run { dem, options, out, settings, description };
    let account = if memory::in_memory(&run.description.frame) <= settings.max_memory_bytes {
        run.in_memory(&request, progress)?
    } else {
        memory::check_on_file(&run)?;
        run.on_file(&request, progress)?
    };
    let mut lines = account.lines(dem);
    lines.push(format!("Written to {}: ground.tif, direction.tif, area_draining.tif", out.display()));
    lines.push(fallwright_report::CAUTION.to_owned());
    Ok(TerrainReport { summary: json!({ "out": out.display().to_string(), "counts": account.json() }), lines })
}

/// One run of the command.
struct Run<'a> {
    dem: &'a Path,
    options: &'a TerrainOptions,
    out: &'a Path,
    settings: &'a Settings,
    description: ElevationDescription,
}

impl Run<'_> {
    fn in_memory(&self, request: &ElevationRequest, progress: Progress) -> Result<Account, Failure> {
        let elevation = read_elevation(request)?;
        if let Some(problem) = no_land(&elevation.ground.values, &self.dem.display().to_string()) {
            return Err(Failure::Refused(vec![problem]));
        }
        let mut folder = output_folder(self.out, &[self.dem], self.settings)?;
        progress("conditioning the terrain and finding flow directions");
        let (longest_m, deepest_m) = (self.options.longest_cut_m, self.options.deepest_cut_m);
        let cuts = Some(CutLimits { longest_m, deepest_m });
        let conditioned = condition(&elevation.ground, Conditioning { cuts, ..Conditioning::default() })
            .map_err(|error| Failure::Failed(error.to_string()))?;
        let area = accumulation(&conditioned.flow);
        let tiling = Tiling { frame: self.description.frame, side: TILE_SIDE };
        let Ok(raised) = tiled::raised(&tiling, &conditioned.enforced, &conditioned.surface);
        let account = Account::of(&elevation.ground, &conditioned, &area, raised);
        progress("writing the results");
        write_terrain(&mut folder, &conditioned, &elevation.crs)?;
        write_wide_area(&mut folder, &area, &elevation.crs)?;
        if self.options.spread {
            write_spread(&mut folder, &conditioned, &elevation.crs)?;
        } else {
            folder.leave_out(SPREAD);
        }
        self.finish(folder, account)
    }

    /// Writes the record of the run and puts everything in place.
    fn finish(&self, mut folder: OutputFolder, account: Account) -> Result<Account, Failure> {
        let name = self.dem.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let settings = json!({
            "crs": self.description.crs.label(),
            "vertical_unit": self.description.vertical_unit.name(),
            "longest_cut_m": self.options.longest_cut_m,
            "deepest_cut_m": self.options.deepest_cut_m,
        });
        let record = RunRecord { command: "terrain", settings, counts: account.json(), notes: &[] };
        record.write(&mut folder, vec![(name, digest(self.dem)?)])?;
        folder.commit()?;
        Ok(account)
    }
}
