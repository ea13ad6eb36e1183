//! `terrain` on input that is odd or bad, in memory and in working files, on any number of threads.

use std::fs;
use std::path::{Path, PathBuf};

use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues, sha256};
use fallwright_units::Frame;
use tempfile::TempDir;

use crate::{Ran, fallwright};

/// So many cells that working files take less memory than everything at once.
const MANY: usize = 1900;

const NO_CUTS: &str = "--longest-cut 0";
/// As without an option, which is what it stands for.
const CUTS: &str = "--longest-cut 60 --deepest-cut 3";

/// An elevation file in a folder of its own.
struct Dem {
    home: TempDir,
    path: PathBuf,
}

impl Dem {
    fn new(cols: usize, rows: usize, height: impl Fn(usize, usize) -> f32) -> Self {
        let home = tempfile::tempdir().unwrap();
        let frame = Frame::new(cols, rows, (400_000.0, 4_800_000.0), (1.0, 1.0)).unwrap();
        let values: Vec<f32> = (0..frame.len()).map(|index| height(index % cols, index / cols)).collect();
        let mut folder = OutputFolder::create(&home.path().join("dem"), false).unwrap();
        let meta = RasterMeta { unit: Some("m"), ..RasterMeta::default() };
        let crs = Crs::from_text("EPSG:26917").unwrap();
        folder.write_raster("dem.tif", &frame, &crs, RasterValues::F32(&values), &meta).unwrap();
        folder.commit().unwrap();
        let path = home.path().join("dem/dem.tif");
        Self { home, path }
    }

    fn cut_short(self) -> Self {
        let bytes = fs::read(&self.path).unwrap();
        fs::write(&self.path, &bytes[..bytes.len() / 2]).unwrap();
        self
    }

    fn out(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn terrain(&self, out: &Path, flags: &str) -> Ran {
        let words = ["terrain", self.path.to_str().unwrap(), "--out", out.to_str().unwrap(), "-v"];
        fallwright(words.into_iter().chain(flags.split_whitespace()))
    }

    /// Runs over working files, with as little memory as a refusal says is needed.
    fn on_file(&self, out: &Path, threads: usize, cuts: &str) -> Ran {
        let flags = |memory: &str| format!("{cuts} --threads {threads} --max-memory {memory}");
        let refused = self.terrain(out, &flags("1MiB"));
        assert_eq!(refused.code, Some(3), "{refused:?}");
        let words = refused.stderr.split("expected at least ").nth(1).unwrap_or_else(|| panic!("{refused:?}"));
        let needed: Vec<&str> = words.split_whitespace().take(2).collect();
        let ran = self.terrain(out, &flags(&needed.concat()));
        assert!(ran.stderr.contains("into working files"), "it was not done in working files: {ran:?}");
        ran
    }
}

/// Exit code 0 and so many cells with elevation, or exit code 3, words of the message, and nothing written.
#[derive(Clone, Copy)]
enum Ends {
    Cells(usize),
    Refused(&'static str),
}

fn check_end(ran: &Ran, out: &Path, ends: Ends) {
    match ends {
        Ends::Cells(cells) => {
            assert_eq!(ran.code, Some(0), "{ran:?}");
            assert!(ran.stdout.contains(&format!(": {cells} cell")), "{cells}: {ran:?}");
            assert!(out.join("run.json").exists());
        }
        Ends::Refused(words) => {
            assert_eq!((ran.code, ran.stdout.as_str()), (Some(3), ""), "{ran:?}");
            assert!(ran.stderr.contains("dem.tif: found ") && ran.stderr.contains(words), "{words}: {ran:?}");
            assert!(!out.exists(), "something was left behind: {ran:?}");
        }
    }
}

fn check(dem: &Dem, ends: Ends) {
    let out = dem.out("out");
    check_end(&dem.terrain(&out, ""), &out, ends);
    let out = dem.out("filled");
    check_end(&dem.terrain(&out, "--longest-cut 0"), &out, ends);
}

fn slope(col: usize, row: usize) -> f32 {
    200.0 + (col % 97) as f32 / 8.0 - row as f32 / 100.0
}

#[test]
fn odd_shapes_are_worked_on() {
    check(&Dem::new(1, 1, slope), Ends::Cells(1));
    check(&Dem::new(700, 1, slope), Ends::Cells(700));
    check(&Dem::new(1, 700, slope), Ends::Cells(700));
    check(&Dem::new(65_536, 3, slope), Ends::Cells(196_608));
    check(&Dem::new(600, 500, |_, _| 5.0), Ends::Cells(300_000));
}

#[test]
fn what_is_no_number_is_missing() {
    let dem = Dem::new(40, 30, |col, row| match (col, row) {
        (10..13, 10..14) => f32::NAN,
        _ => slope(col, row),
    });
    check(&dem, Ends::Cells(1200 - 12));
    // Islands, each of one cell or of a few.
    let dem = Dem::new(300, 200, |col, row| if col % 5 < 2 && row % 3 == 0 { slope(col, row) } else { f32::NAN });
    check(&dem, Ends::Cells(120 * 67));
}

#[test]
fn what_is_no_ground_is_refused() {
    check(&Dem::new(30, 20, |_, _| f32::NAN), Ends::Refused("no cell with a height"));
    for height in [f32::INFINITY, f32::NEG_INFINITY] {
        let spoilt = |col, row| if (col, row) == (6, 9) { height } else { slope(col, row) };
        check(&Dem::new(30, 20, spoilt), Ends::Refused("an infinite height in column 7, row 10"));
    }
    let unmarked = |col, row| if (col, row) == (29, 19) { -9999.0 } else { slope(col, row) };
    check(&Dem::new(30, 20, unmarked), Ends::Refused("a height of -9999 m"));
    check(&Dem::new(900, 700, slope).cut_short(), Ends::Refused("expected a complete raster"));
}

/// Odd shapes are too small for working files to be chosen; the library's own tests have them there.
#[test]
fn the_same_in_working_files() {
    let check = |dem: &Dem, ends: Ends| {
        let out = dem.out("out");
        check_end(&dem.on_file(&out, 1, CUTS), &out, ends);
    };
    let cells = MANY * MANY;
    check(&Dem::new(MANY, MANY, |_, _| 5.0), Ends::Cells(cells));
    let spoilt = |col: usize, row: usize| match (col % 50, row % 50) {
        (9, 9) => f32::NAN,
        _ => slope(col, row),
    };
    check(&Dem::new(MANY, MANY, spoilt), Ends::Cells(cells - 38 * 38));
    check(&Dem::new(MANY, MANY, |_, _| f32::NAN), Ends::Refused("no cell with a height"));
    for height in [f32::INFINITY, f32::NEG_INFINITY] {
        let spoilt = |col, row| if (col, row) == (MANY - 3, MANY - 1) { height } else { slope(col, row) };
        check(&Dem::new(MANY, MANY, spoilt), Ends::Refused("an infinite height in column"));
    }
    let unmarked = |col, row| if (col, row) == (MANY - 1, MANY - 1) { -9999.0 } else { slope(col, row) };
    check(&Dem::new(MANY, MANY, unmarked), Ends::Refused("a height of -9999 m"));
    check(&Dem::new(MANY, MANY, slope).cut_short(), Ends::Refused("expected a complete raster"));
}

#[test]
fn any_number_of_threads_and_any_memory_give_the_same_bytes() {
    let rough = |col: usize, row: usize| match (col, row) {
        (300..340, 200..230) => f32::NAN,
        (400..1500, 100..700) => 200.0,
        _ => 190.0 + ((col * 7919 + row * 104_729) % 977 / 100) as f32 + (col / 64 + row / 48) as f32 % 5.0,
    };
    let dem = Dem::new(2300, MANY, rough);
    let digests = |ran: &Ran, out: &Path| -> Vec<(String, String)> {
        assert_eq!(ran.code, Some(0), "{ran:?}");
        let files = fs::read_dir(out).unwrap().map(|entry| entry.unwrap());
        let digest = |file: fs::DirEntry| (file.file_name().into_string().unwrap(), sha256(&file.path()).unwrap());
        let mut digests: Vec<_> = files.map(digest).collect();
        digests.sort();
        digests
    };
    for cuts in [NO_CUTS, CUTS] {
        let out = dem.out(&format!("first{cuts}"));
        let expected = digests(&dem.terrain(&out, &format!("{cuts} --threads 1")), &out);
        let names: Vec<&str> = expected.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["area_draining.tif", "direction.tif", "direction.tif.aux.xml", "ground.tif", "run.json"]);
        for threads in [2, 4, 8] {
            let out = dem.out(&format!("{threads}{cuts}"));
            let ran = dem.terrain(&out, &format!("{cuts} --threads {threads}"));
            assert_eq!(digests(&ran, &out), expected, "{threads} threads, {cuts}");
            let out = dem.out(&format!("{threads} on file{cuts}"));
            assert_eq!(
                digests(&dem.on_file(&out, threads, cuts), &out),
                expected,
                "{threads} threads, working files, {cuts}"
            );
        }
    }
}
