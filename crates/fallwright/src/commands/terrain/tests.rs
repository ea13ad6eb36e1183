//! The command over working files against the command in memory, and input that asks for too much.

use std::fs;
use std::path::{Path, PathBuf};

use fallwright_geodata::{Crs, ElevationRequest, OutputFolder, RasterMeta, RasterValues, describe_elevation};
use fallwright_units::Frame;

use super::{Run, TerrainOptions, terrain};
use crate::{Error, Watch};
use fallwright_case::Budget;
use fallwright_report::Output;
use fallwright_report::counts::TerrainCounts;

fn into(folder: &Path) -> Output<'_> {
    Output { folder, overwrite: false }
}

const PLENTY: Budget = Budget::of(1 << 40);

const FILLED: TerrainOptions =
    TerrainOptions { vertical_unit: None, longest_cut_m: 0.0, deepest_cut_m: 0.0, spread: false };
const CUT: TerrainOptions = TerrainOptions { longest_cut_m: 60.0, deepest_cut_m: 3.0, ..FILLED };

struct Unwatched;

impl Watch for Unwatched {
    fn step(&self, _: &str) {}

    fn part_done(&self, part: f64) {
        assert!((0.0..=1.0).contains(&part), "{part}");
    }
}

/// An elevation file in a folder of its own.
struct Dem {
    folder: tempfile::TempDir,
    path: PathBuf,
}

impl Dem {
    fn new(cols: usize, rows: usize, height: impl Fn(usize, usize) -> f32) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let frame = Frame::new(cols, rows, (400_000.0, 4_800_000.0), (1.0, 1.0)).unwrap();
        let values: Vec<f32> = (0..frame.len()).map(|index| height(index % cols, index / cols)).collect();
        let mut out = OutputFolder::create(&folder.path().join("dem"), false).unwrap();
        let meta = RasterMeta { unit: Some("m"), ..RasterMeta::default() };
        let crs = Crs::from_text("EPSG:26917").unwrap();
        out.write_raster("dem.tif", &frame, &crs, RasterValues::F32(&values), &meta).unwrap();
        out.commit().unwrap();
        let path = folder.path().join("dem").join("dem.tif");
        Self { folder, path }
    }

    fn out(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn in_memory(&self, out: &Path, options: TerrainOptions) -> Result<TerrainCounts, Error> {
        terrain(&self.path, &options, &into(out), &PLENTY, &Unwatched)
    }

    fn on_file(&self, out: &Path, options: TerrainOptions) -> Result<TerrainCounts, Error> {
        self.on_file_with(out, options, &PLENTY)
    }

    fn on_file_with(&self, out: &Path, options: TerrainOptions, budget: &Budget) -> Result<TerrainCounts, Error> {
        let files = [self.path.clone()];
        let request =
            ElevationRequest { files: &files, vertical_unit: None, crs: None, warp: None, max_bytes: u64::MAX };
        let description = describe_elevation(&request)?;
        let run = Run { dem: &self.path, options: &options, output: &into(out), budget, description };
        run.on_file(&request, &Unwatched)
    }

    /// Both ways write the same bytes and say the same, with cuts and without.
    fn check(&self) {
        self.check_with(FILLED);
        self.check_with(CUT);
    }

    fn check_with(&self, options: TerrainOptions) {
        let [memory, file] = ["memory", "file"].map(|name| self.out(&format!("{name}_{}", options.longest_cut_m)));
        assert_eq!(self.in_memory(&memory, options).unwrap(), self.on_file(&file, options).unwrap());
        let names = |folder: &Path| {
            let mut names: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name()).collect();
            names.sort();
            names
        };
        assert_eq!(names(&memory), names(&file));
        for name in names(&memory) {
            assert!(fs::read(memory.join(&name)).unwrap() == fs::read(file.join(&name)).unwrap(), "{name:?} differs");
        }
    }
}

/// Rough ground with flats, a lake across tiles and a hole without data.
fn rough(col: usize, row: usize) -> f32 {
    let chance = (col as u64 * 7919 + row as u64 * 104_729).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 56;
    match (col, row) {
        (300..340, 200..230) => f32::NAN,
        (400..700, 100..300) => 200.0,
        _ => 210.0 + chance as f32 / 100.0 - col as f32 / 1000.0,
    }
}

#[test]
fn files_and_memory_give_the_same_bytes() {
    Dem::new(1100, 530, rough).check();
}

/// A bank across a valley, far from the tile's edge and along it, and rough ground everywhere.
#[test]
fn cuts_across_tiles_give_the_same_bytes() {
    let banked = |col: usize, row: usize| match (col, row) {
        (300..303 | 511..514 | 820..822, _) => 214.5,
        _ => rough(col, row),
    };
    let dem = Dem::new(1100, 1060, banked);
    dem.check();
    let counts = dem.in_memory(&dem.out("again"), CUT).unwrap();
    assert!(counts.depressions_cut > 0 && !counts.largest_suspected_culverts.is_empty(), "{counts:?}");
}

#[test]
fn odd_shapes_give_the_same_bytes() {
    Dem::new(1, 1, |_, _| 5.0).check();
    Dem::new(700, 1, |col, _| (col % 7) as f32).check();
    Dem::new(1, 700, |_, row| (row % 7) as f32).check();
    Dem::new(600, 600, |_, _| 5.0).check();
    Dem::new(600, 600, |col, row| if (col / 9 + row / 9) % 2 == 0 { f32::NAN } else { (col % 5) as f32 }).check();
    Dem::new(65_536, 3, |col, row| ((col * 31 + row * 17) % 97) as f32).check();
}

#[test]
fn a_raster_without_heights_is_refused_both_ways() {
    for height in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
        let dem = Dem::new(30, 20, |_, _| height);
        for refused in [dem.in_memory(&dem.out("memory"), CUT), dem.on_file(&dem.out("file"), CUT)] {
            assert!(matches!(refused, Err(Error::Refused(_))), "{height}");
        }
        assert!(!dem.out("memory").exists() && !dem.out("file").exists(), "nothing is left behind");
    }
}

#[test]
fn infinite_heights_are_refused_both_ways() {
    for infinity in [f32::INFINITY, f32::NEG_INFINITY] {
        let dem = Dem::new(40, 30, |col, row| if (col, row) == (6, 9) { infinity } else { (col * row % 11) as f32 });
        for refused in [dem.in_memory(&dem.out("memory"), CUT), dem.on_file(&dem.out("file"), CUT)] {
            assert!(matches!(refused, Err(Error::Refused(_))), "{infinity}");
        }
        assert!(!dem.out("memory").exists() && !dem.out("file").exists());
    }
}

#[test]
fn a_file_cut_short_is_refused_both_ways() {
    let dem = Dem::new(900, 700, rough);
    let bytes = fs::read(&dem.path).unwrap();
    fs::write(&dem.path, &bytes[..bytes.len() / 2]).unwrap();
    for refused in [dem.in_memory(&dem.out("memory"), CUT), dem.on_file(&dem.out("file"), CUT)] {
        assert!(matches!(refused, Err(Error::Refused(_))));
    }
    assert!(!dem.out("memory").exists() && !dem.out("file").exists());
}

#[test]
fn heights_that_no_land_has_are_refused_both_ways() {
    let dem = Dem::new(30, 20, |col, row| if (col, row) == (29, 19) { -9999.0 } else { 3.0 });
    for refused in [dem.in_memory(&dem.out("memory"), CUT), dem.on_file(&dem.out("file"), CUT)] {
        assert!(matches!(refused, Err(Error::Refused(_))));
    }
}

fn refusal(dem: &Dem, options: TerrainOptions, max_memory_bytes: u64) -> String {
    let budget = Budget::of(max_memory_bytes);
    match terrain(&dem.path, &options, &into(&dem.out("out")), &budget, &Unwatched) {
        Err(Error::Refused(problems)) => problems[0].to_string(),
        Ok(_) => panic!("the run was not refused"),
        Err(other) => panic!("refused as {other:?}"),
    }
}

#[test]
fn too_little_memory_is_refused_with_what_is_needed() {
    let dem = Dem::new(600, 600, rough);
    let reported = refusal(&dem, FILLED, 50 << 20);
    assert!(reported.contains("50 MiB of memory allowed; expected at least "), "{reported}");
    let reported = refusal(&dem, TerrainOptions { spread: true, ..FILLED }, 50 << 20);
    assert!(reported.contains("the spread picture needs the whole raster in memory"), "{reported}");
}

/// A run over files with 1 GiB allowed: whether it ends, and then says what is enough for any ground.
fn check_in_use(in_use: Option<fn() -> u64>, ends: bool) {
    let dem = Dem::new(600, 600, rough);
    let budget = Budget { memory_bytes: 1 << 30, in_use };
    match dem.on_file_with(&dem.out("out"), CUT, &budget) {
        Err(Error::Refused(problems)) => {
            let reported = problems[0].to_string();
            assert!(ends && reported.contains("1024 MiB of memory allowed; expected at least "), "{reported}");
        }
        Ok(_) => assert!(!ends, "the run did not end"),
        Err(other) => panic!("{other:?}"),
    }
    assert_eq!(dem.out("out").exists(), !ends, "nothing is left behind");
}

/// What a run takes depends on the ground.
#[test]
fn a_run_over_files_ends_once_more_memory_is_in_use_than_may_be() {
    check_in_use(Some(|| (1 << 30) + 1), true);
    check_in_use(Some(|| 1 << 30), false);
    check_in_use(None, false);
}

#[test]
fn too_little_space_is_an_error_that_names_the_folder() {
    let dem = Dem::new(30, 20, |col, _| col as f32);
    let folder = OutputFolder::create(&dem.out("out"), false).unwrap();
    let reported = folder.require_space(u64::MAX).unwrap_err().to_string();
    assert!(
        reported.contains(&*dem.out("out").to_string_lossy()) && reported.contains(&u64::MAX.to_string()),
        "{reported}"
    );
    assert!(folder.require_space(1).is_ok());
}
