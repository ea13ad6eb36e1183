//! Terrain alone: conditioned surface, flow direction and area draining of one elevation raster.

use std::path::{Path, PathBuf};

use fallwright_geodata::{ElevationRequest, read_elevation};
use fallwright_report::{hectares, metres};
use fallwright_terrain::{Conditioned, Conditioning, CutLimits, accumulation, condition, depressions};
use fallwright_units::{Raster, VerticalUnit};
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::{max_elevation_bytes, no_land};
use crate::output::{SPREAD, output_folder, write_spread, write_terrain};
use crate::run_record::{RunRecord, digest};
use crate::summary::{counted, table};
use crate::suspect::{is_embankment, released};

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
/// # Errors
/// Faults of the raster; an output folder that cannot be written.
pub fn terrain(
    dem: &Path,
    options: &TerrainOptions,
    out: &Path,
    settings: &Settings,
    progress: Progress,
) -> Result<TerrainReport, Failure> {
    progress("reading the elevation");
    let files: Vec<PathBuf> = vec![dem.to_path_buf()];
    let max_bytes = max_elevation_bytes(settings);
    let vertical_unit = options.vertical_unit;
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes };
    let elevation = read_elevation(&request)?;
    if let Some(problem) = no_land(&elevation.ground, &dem.display().to_string()) {
        return Err(Failure::Refused(vec![problem]));
    }
    let mut folder = output_folder(out, &[dem], settings)?;
    progress("conditioning the terrain and finding flow directions");
    let cuts = Some(CutLimits { longest_m: options.longest_cut_m, deepest_m: options.deepest_cut_m });
    let conditioned = condition(&elevation.ground, Conditioning { cuts, ..Conditioning::default() })
        .map_err(|error| Failure::Failed(error.to_string()))?;
    let area = accumulation(&conditioned.flow);
    progress("writing the results");
    write_terrain(&mut folder, &conditioned, &area, &elevation.crs)?;
    if options.spread {
        write_spread(&mut folder, &conditioned, &elevation.crs)?;
    } else {
        folder.leave_out(SPREAD);
    }
    let account = Account::of(&elevation.ground, &conditioned, &area);
    let name = dem.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let settings = json!({
        "crs": elevation.crs.label(),
        "vertical_unit": elevation.vertical_unit.name(),
        "longest_cut_m": options.longest_cut_m,
        "deepest_cut_m": options.deepest_cut_m,
    });
    let record = RunRecord { command: "terrain", settings, counts: account.json(), notes: &[] };
    record.write(&mut folder, vec![(name, digest(dem)?)])?;
    folder.commit()?;
    let mut lines = account.lines(dem);
    lines.push(format!("Written to {}: ground.tif, direction.tif, area_draining.tif", out.display()));
    lines.push(fallwright_report::CAUTION.to_owned());
    Ok(TerrainReport { summary: json!({ "out": out.display().to_string(), "counts": account.json() }), lines })
}

/// Suspected culverts that are told, those through which most land drains.
const TOLD_CULVERTS: usize = 10;

/// A short account of what conditioning did.
struct Account {
    cells: usize,
    filled: usize,
    cells_raised: usize,
    fill_m3: f64,
    deepest_fill_m: f64,
    cut: usize,
    cut_m3: f64,
    /// Map coordinates, depth in metres and hectares draining through, most hectares first.
    suspected: Vec<(f64, f64, f64, f64)>,
}

impl Account {
    fn of(ground: &Raster<f32>, conditioned: &Conditioned, area: &Raster<u64>) -> Self {
        let frame = ground.frame;
        let fills = depressions(&conditioned.enforced, &conditioned.surface);
        let cuts = &conditioned.cuts;
        let mut suspected: Vec<_> = cuts
            .iter()
            .filter(|cut| is_embankment(ground, cut))
            .map(|cut| {
                let (x, y) = frame.centre(cut.way.path[cut.way.path.len() / 2]);
                (x, y, cut.depth_m, frame.hectares(released(ground, area, cut)))
            })
            .collect();
        suspected.sort_by(|a, b| b.3.total_cmp(&a.3));
        Self {
            cells: ground.values.iter().filter(|z| !z.is_nan()).count(),
            filled: fills.len(),
            cells_raised: fills.iter().map(|fill| fill.cells.len()).sum(),
            fill_m3: metres(fills.iter().map(|fill| fill.volume_m3).sum()),
            deepest_fill_m: fills.iter().map(|fill| fill.depth_m).fold(0.0, f64::max),
            cut: cuts.len(),
            cut_m3: metres(cuts.iter().map(|cut| cut.lowering_m * frame.cell_square_metres()).sum()),
            suspected,
        }
    }

    fn json(&self) -> Value {
        let suspected: Vec<Value> = self
            .suspected
            .iter()
            .take(TOLD_CULVERTS)
            .map(|&(x, y, depth, area)| json!({ "x": x, "y": y, "depth_m": metres(depth), "draining_ha": hectares(area) }))
            .collect();
        json!({
            "cells_with_elevation": self.cells,
            "depressions_filled": self.filled,
            "cells_raised": self.cells_raised,
            "fill_m3": self.fill_m3,
            "deepest_fill_m": metres(self.deepest_fill_m),
            "depressions_cut": self.cut,
            "cut_m3": self.cut_m3,
            "suspected_culverts": self.suspected.len(),
            "largest_suspected_culverts": suspected,
        })
    }

    fn lines(&self, dem: &Path) -> Vec<String> {
        let depressions = |count| counted(count, "depression", "depressions");
        let mut lines = vec![
            format!("{}: {} with elevation", dem.display(), counted(self.cells, "cell", "cells")),
            format!(
                "  {} filled: {} raised, {:.1} m³, at most {:.2} m deep",
                depressions(self.filled),
                counted(self.cells_raised, "cell", "cells"),
                self.fill_m3,
                self.deepest_fill_m
            ),
            format!(
                "  {} cut: {:.1} m³ (--longest-cut and --deepest-cut set the limits)",
                depressions(self.cut),
                self.cut_m3
            ),
        ];
        if !self.suspected.is_empty() {
            lines.push(format!(
                "  {} suspected by shape; the largest:",
                counted(self.suspected.len(), "culvert", "culverts")
            ));
            let header = ["x", "y", "cut m", "draining ha"].map(str::to_owned).to_vec();
            let row = |&(x, y, depth, area): &(f64, f64, f64, f64)| {
                vec![format!("{x:.1}"), format!("{y:.1}"), format!("{depth:.2}"), format!("{area:.2}")]
            };
            let rows: Vec<_> =
                std::iter::once(header).chain(self.suspected.iter().take(TOLD_CULVERTS).map(row)).collect();
            lines.extend(table(&rows).into_iter().map(|line| format!("    {line}")));
        }
        lines
    }
}
