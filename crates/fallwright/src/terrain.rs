//! Terrain alone: conditioned surface, flow direction and area draining of one elevation raster.

use std::path::{Path, PathBuf};

use fallwright_geodata::{ElevationRequest, OutputFolder, read_elevation};
use fallwright_terrain::{Conditioning, accumulation, condition, depressions};
use fallwright_units::VerticalUnit;
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::max_elevation_bytes;
use crate::output::write_terrain;
use crate::run_record::{RunRecord, digest};
use crate::summary::counted;

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

/// Conditions one raster and writes `ground.tif`, `direction.tif`, `area_draining.tif` and `run.json`.
///
/// # Errors
/// Faults of the raster; an output folder that cannot be written.
pub fn terrain(
    dem: &Path,
    vertical_unit: Option<VerticalUnit>,
    out: &Path,
    settings: &Settings,
    progress: Progress,
) -> Result<TerrainReport, Failure> {
    progress("reading the elevation");
    let files: Vec<PathBuf> = vec![dem.to_path_buf()];
    let max_bytes = max_elevation_bytes(settings);
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes };
    let elevation = read_elevation(&request)?;
    let mut folder = OutputFolder::create(out, settings.overwrite)?;
    progress("conditioning the terrain and finding flow directions");
    let conditioned =
        condition(&elevation.ground, Conditioning::default()).map_err(|error| Failure::Failed(error.to_string()))?;
    let area = accumulation(&conditioned.flow);
    progress("writing the results");
    write_terrain(&mut folder, &conditioned, &area, &elevation.crs)?;
    let fills = depressions(&conditioned.enforced, &conditioned.surface);
    let valid = elevation.ground.values.iter().filter(|z| !z.is_nan()).count();
    let raised: usize = fills.iter().map(|fill| fill.cells.len()).sum();
    let volume_m3: f64 = fills.iter().map(|fill| fill.volume_m3).sum();
    let deepest_m = fills.iter().map(|fill| fill.depth_m).fold(0.0, f64::max);
    let counts = json!({
        "cells_with_elevation": valid,
        "depressions_filled": fills.len(),
        "cells_raised": raised,
        "fill_m3": fallwright_report::metres(volume_m3),
        "deepest_fill_m": fallwright_report::metres(deepest_m),
    });
    let name = dem.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let settings = json!({ "crs": elevation.crs.label(), "vertical_unit": elevation.vertical_unit.name() });
    let record = RunRecord { command: "terrain", settings, counts: counts.clone(), notes: &[] };
    record.write(&mut folder, vec![(name, digest(dem)?)])?;
    folder.commit()?;
    let lines = vec![
        format!("{}: {} with elevation", dem.display(), counted(valid, "cell", "cells")),
        format!(
            "  {} filled: {raised} cells raised, {volume_m3:.1} m³, at most {deepest_m:.2} m deep",
            counted(fills.len(), "depression", "depressions")
        ),
        format!("Written to {}: ground.tif, direction.tif, area_draining.tif", out.display()),
        fallwright_report::CAUTION.to_owned(),
    ];
    Ok(TerrainReport { summary: json!({ "out": out.display().to_string(), "counts": counts }), lines })
}
