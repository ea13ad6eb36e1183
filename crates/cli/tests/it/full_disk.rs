//! A disk that fills up on the way: the command fails, names what it could not write, and leaves nothing.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues};
use fallwright_units::Frame;
use tempfile::TempDir;

use crate::{Ran, fallwright};

/// What room there is.
#[derive(Clone, Copy, Debug)]
enum Room {
    /// A file system of its own with so many KiB, which only the command sees. Needs the right to mount one.
    Disk(u64),
    /// So many KiB for each file, as on a file system of old: a write beyond fails halfway. Needs nothing.
    File(u64),
}

impl Room {
    /// Sets the room up, runs the command, and lists what is there afterwards. The shell is given the KiB, the folder that is the
    /// disk, the file for the list, and the command.
    fn script(self) -> &'static str {
        match self {
            Self::Disk(_) => {
                r#"mount -t tmpfs -o size="$1k" none "$2" || exit 99; disk=$2 list=$3; shift 3; "$@"; code=$?
                find "$disk" -mindepth 1 > "$list"; exit "$code""#
            }
            Self::File(_) => {
                r#"disk=$2 list=$3; (trap "" XFSZ; ulimit -f $(($1 * 2)); shift 3; exec "$@"); code=$?
                find "$disk" -mindepth 1 > "$list"; exit "$code""#
            }
        }
    }

    fn run(self, disk: &Path, list: &Path, words: &[String]) -> Ran {
        let (mut command, kibibytes) = match self {
            Self::Disk(kibibytes) => (Command::new("unshare"), kibibytes),
            Self::File(kibibytes) => (Command::new("sh"), kibibytes),
        };
        if matches!(self, Self::Disk(_)) {
            command.args(["-rm", "sh"]);
        }
        command.args(["-c", self.script(), "sh", &kibibytes.to_string()]).arg(disk).arg(list);
        let output = command.arg(env!("CARGO_BIN_EXE_fallwright")).args(words).stdin(Stdio::null()).output().unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        Ran { code: output.status.code(), stdout: text(output.stdout), stderr: text(output.stderr) }
    }
}

/// Whether a file system can be mounted for one command; where not, only the limit for each file is tried.
#[expect(clippy::print_stderr, reason = "what is skipped is reported")]
fn can_mount() -> bool {
    let home = tempfile::tempdir().unwrap();
    let script = r#"mount -t tmpfs -o size=64k none "$1""#;
    let tried = Command::new("unshare").args(["-rm", "sh", "-c", script, "sh"]).arg(home.path()).output();
    let can = tried.is_ok_and(|output| output.status.success());
    if !can {
        eprintln!("skipped: no file system can be mounted here, so no whole disk is filled, only single files");
    }
    can
}

/// A command line, in which `OUT` is the folder to write into.
struct Job {
    home: TempDir,
    line: String,
}

impl Job {
    /// In the line `HOME` is the folder of what is read.
    fn new(home: TempDir, line: &str) -> Self {
        let line = line.replace("HOME", home.path().to_str().unwrap());
        fs::create_dir(home.path().join("disk")).unwrap();
        Self { home, line }
    }

    fn words(&self, out: &Path) -> Vec<String> {
        self.line.split_whitespace().map(|word| word.replace("OUT", out.to_str().unwrap())).collect()
    }

    /// The bytes of every file that it writes where there is room.
    fn undisturbed(&self) -> Vec<u64> {
        let out = self.home.path().join("undisturbed");
        let ran = fallwright(self.words(&out));
        assert_eq!(ran.code, Some(0), "{ran:?}");
        fs::read_dir(out).unwrap().map(|entry| entry.unwrap().metadata().unwrap().len()).collect()
    }

    fn check(&self, room: Room) {
        let disk = self.home.path().join("disk");
        let (out, list) = (disk.join("out"), self.home.path().join("list"));
        let ran = room.run(&disk, &list, &self.words(&out));
        let what = format!("{room:?}, {}: {ran:?}", self.line);
        assert_eq!((ran.code, ran.stdout.as_str()), (Some(1), ""), "{what}");
        assert!(ran.stderr.contains(out.to_str().unwrap()), "no path is named: {what}");
        assert!(!ran.stderr.contains("partial"), "the path is not the one that the user knows: {what}");
        assert_eq!(fs::read_to_string(list).unwrap(), "", "something was left behind: {what}");
    }

    /// Lets the room end after each of some parts of what is needed: of the whole disk, or of the largest file.
    fn check_parts(&self, bytes: &[u64], parts: u64, whole_disk: bool) {
        let needed = if whole_disk { pages(bytes) * PAGE_KIB } else { bytes.iter().max().unwrap() >> 10 };
        for part in 0..parts {
            let kibibytes = needed * part / parts;
            // A tmpfs of no size has no limit.
            let disk = Room::Disk((kibibytes / PAGE_KIB).max(1) * PAGE_KIB);
            self.check(if whole_disk { disk } else { Room::File(kibibytes) });
        }
    }
}

const PAGE_KIB: u64 = 4;

/// Pages of memory that files take on a tmpfs.
fn pages(bytes: &[u64]) -> u64 {
    bytes.iter().map(|bytes| bytes.div_ceil(PAGE_KIB << 10)).sum()
}

fn dem(side: usize) -> TempDir {
    let home = tempfile::tempdir().unwrap();
    let frame = Frame::new(side, side, (400_000.0, 4_800_000.0), (1.0, 1.0)).unwrap();
    let height = |cell: usize| 200.0 + (cell * 7919 % 1009) as f32 / 64.0;
    let values: Vec<f32> = (0..frame.len()).map(height).collect();
    let mut folder = OutputFolder::create(&home.path().join("dem"), false).unwrap();
    let meta = RasterMeta { unit: Some("m"), ..RasterMeta::default() };
    let crs = Crs::from_text("EPSG:26917").unwrap();
    folder.write_raster("dem.tif", &frame, &crs, RasterValues::F32(&values), &meta).unwrap();
    folder.commit().unwrap();
    home
}

fn demonstration() -> TempDir {
    let home = tempfile::tempdir().unwrap();
    let case: PathBuf = home.path().join("case");
    assert_eq!(fallwright(["demo".as_ref(), case.as_os_str()]).code, Some(0));
    home
}

/// So small a terrain that the disk can be filled at every page of its files, the last of which are written on closing.
#[test]
fn terrain_in_memory_at_every_page() {
    let job = Job::new(dem(200), "terrain HOME/dem/dem.tif --spread --out OUT");
    let bytes = job.undisturbed();
    if can_mount() {
        job.check_parts(&bytes, pages(&bytes), true);
    }
    job.check_parts(&bytes, 20, false);
}

/// Working files take more room than the results; a disk that is too small for both is reported before any work.
#[test]
fn terrain_in_working_files() {
    const LINE: &str = "terrain HOME/dem/dem.tif --longest-cut 0 --threads 1 --max-memory MEMORY --out OUT";
    let home = dem(1900);
    let refused = Job::new(home, &LINE.replace("MEMORY", "1MiB"));
    let ran = fallwright(refused.words(&refused.home.path().join("out")));
    let words = ran.stderr.split("expected at least ").nth(1).unwrap_or_else(|| panic!("{ran:?}"));
    let memory: String = words.split_whitespace().take(2).collect();
    let job = Job { line: refused.line.replace("1MiB", &memory), home: refused.home };
    job.check_parts(&job.undisturbed(), 2, false);
    // Larger than every result, smaller than a working file of heights.
    job.check(Room::File(1900 * 1900 * 4 / 1024 - 1));
    if can_mount() {
        job.check(Room::Disk(64));
    }
}

#[test]
fn the_commands_on_a_case() {
    let mount = can_mount();
    for line in [
        "demo OUT",
        "outlets HOME/case/case.toml --gpkg --out OUT",
        "watershed HOME/case/case.toml --outlet D-07 --out OUT",
        "capacity HOME/case/case.toml --out OUT",
        "sheets HOME/case/case.toml --out OUT",
    ] {
        let job = Job::new(demonstration(), line);
        job.check_parts(&job.undisturbed(), 3, mount);
    }
}
