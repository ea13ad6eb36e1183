//! How long conditioning takes with and without cuts, on real lidar and on generated ground.
//!
//! `cargo bench -p fallwright --bench conditioning` measures the farm valley (1 m lidar, where `FALLWRIGHT_REAL_DATA` or
//! `../shared/data` has it) and 5,000 x 5,000 generated cells; a number after `--` sets another side.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]

use std::path::{Path, PathBuf};
use std::time::Instant;

use fallwright_geodata::{ElevationRequest, read_elevation};
use fallwright_terrain::{Conditioning, CutLimits, condition};
use fallwright_units::{Frame, Raster, VerticalUnit};

const CUTS: CutLimits = CutLimits { longest_m: fallwright::LONGEST_CUT_M, deepest_m: fallwright::DEEPEST_CUT_M };

fn main() {
    let side = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(5_000);
    if let Some(valley) = farm_valley() {
        measure("farm valley", &valley);
    }
    measure("generated", &lidar_like(side));
}

fn measure(name: &str, ground: &Raster<f32>) {
    let million = ground.frame.len() as f64 / 1e6;
    for (what, cuts) in [("filled", None), ("cut and filled", Some(CUTS))] {
        let started = Instant::now();
        let conditioned = condition(ground, Conditioning { cuts, ..Conditioning::default() }).expect("there is ground");
        let seconds = started.elapsed().as_secs_f64();
        println!(
            "{name}, {million:.2} million cells, {what}: {seconds:.2} s, {:.3} s a million cells, {} cuts",
            seconds / million,
            conditioned.cuts.len()
        );
    }
}

fn farm_valley() -> Option<Raster<f32>> {
    let data = std::env::var_os("FALLWRIGHT_REAL_DATA").map_or_else(|| PathBuf::from("../shared/data"), PathBuf::from);
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let files = [root.join(data).join("farm_valley/dtm_1m.tif")];
    let vertical_unit = Some(VerticalUnit::Metre);
    let request = ElevationRequest { files: &files, vertical_unit, crs: None, warp: None, max_bytes: 1 << 30 };
    read_elevation(&request).ok().map(|elevation| elevation.ground)
}

/// Land of 1 m cells that falls 0.2 % in low waves, with unevenness of 10 cm, and a road on a bank of 1.2 m every 500 m each
/// way: what a survey from the air shows where no culvert is known (our choice throughout).
fn lidar_like(side: usize) -> Raster<f32> {
    let frame = Frame::new(side, side, (0.0, side as f64), (1.0, 1.0)).expect("a sound frame");
    let height = |index: usize| {
        let (x, y) = ((index % side) as f64, (index / side) as f64);
        let waves = 1.5 * (x / 170.0).sin() * (y / 230.0).cos() + 0.4 * (x / 37.0 + y / 61.0).sin();
        let from_road = |at: f64| ((at + 250.0) % 500.0 - 250.0).abs();
        let bank = 1.2 * (1.0 - (from_road(x).min(from_road(y)) - 4.0) / 4.0).clamp(0.0, 1.0);
        (100.0 - 0.002 * (x + y) + waves + bank + 0.1 * unevenness(index as u64)) as f32
    };
    Raster { frame, values: (0..frame.len()).map(height).collect() }
}

/// A number from 0 to 1 for each cell, the same on every run.
fn unevenness(index: u64) -> f64 {
    let mixed = (index ^ (index >> 13)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    (mixed >> 40) as f64 / f64::from(1_u32 << 24)
}
