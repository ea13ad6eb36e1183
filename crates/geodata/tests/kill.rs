//! A process that is killed outright, again and again, while it puts its files in place.
#![cfg(unix)]

use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;

use fallwright_geodata::OutputFolder;

const FOLDER: &str = "FALLWRIGHT_TEST_FOLDER";
const FILES: usize = 300;
const LINES: usize = 50;
const KILLS: u64 = 8;

/// One run after the other into the same folder; every file of a run holds the run's number on each line.
#[test]
#[ignore = "the test below starts it and kills it"]
fn run_over_and_over() {
    let folder = std::env::var_os(FOLDER).expect("the folder to write into");
    for run in 0_u32.. {
        let mut output = OutputFolder::create(Path::new(&folder), true).expect("an output folder");
        for file in 0..FILES {
            output.write_bytes(&format!("{file:03}"), format!("{run:08}\n").repeat(LINES).as_bytes()).expect("a file");
        }
        output.commit().expect("the files in place");
    }
}

/// The run that a file is of, `None` where there is none; panics where it is not wholly of one.
fn run_of(path: &Path) -> Option<u32> {
    let text = fs::read_to_string(path).ok()?;
    let first = text.lines().next().unwrap_or_else(|| panic!("{} is empty", path.display()));
    assert_eq!(text, format!("{first}\n").repeat(LINES), "{}", path.display());
    Some(first.parse().expect("a run's number"))
}

fn runs(folder: &Path) -> Vec<Option<u32>> {
    (0..FILES).map(|file| run_of(&folder.join(format!("{file:03}")))).collect()
}

/// Kills a process some time after it gave the first file of its second run its name.
fn kill_after(folder: &Path, wait: Duration) {
    let program = std::env::current_exe().expect("this test");
    let mut child = Command::new(program)
        .args(["--exact", "run_over_and_over", "--ignored"])
        .env(FOLDER, folder)
        .stdout(Stdio::null())
        .spawn()
        .expect("this test once more");
    let (first, last) = (folder.join("000"), folder.join(format!("{:03}", FILES - 1)));
    for file in [last, first] {
        let before = inode(&file);
        while inode(&file).is_none_or(|now| before == Some(now)) {
            assert!(child.try_wait().expect("the child").is_none(), "the child ended by itself");
        }
    }
    sleep(wait);
    child.kill().expect("a child that still runs");
    child.wait().expect("the child");
}

fn inode(path: &Path) -> Option<u64> {
    fs::metadata(path).ok().map(|data| data.ino())
}

/// Files are renamed in the order in which they were written, so those of the newer run come first, and the last is there
/// only beside files of its own run. What a killed process leaves behind is removed by the next.
#[test]
fn the_last_file_is_of_the_run_of_all_others_whenever_the_process_is_killed() {
    let home = tempfile::tempdir().expect("a temporary folder");
    let folder = home.path().join("out");
    let mut cut_in_two = 0;
    for number in 0..KILLS {
        kill_after(&folder, Duration::from_micros(number * 400));
        let runs = runs(&folder);
        let (last, others) = runs.split_last().expect("files");
        let others: Vec<u32> = others.iter().map(|run| run.expect("a file that is replaced, never removed")).collect();
        let (newest, oldest) = (others[0], others[FILES - 2]);
        assert!(others.is_sorted_by(|a, b| a >= b) && oldest + 1 >= newest, "kill {number}: {others:?}");
        assert!(last.is_none_or(|last| last == newest && last == oldest), "kill {number}: {last:?}, {others:?}");
        cut_in_two += u32::from(oldest != newest);
        let left = fs::read_dir(&folder).expect("the folder").count();
        assert!(left <= FILES + 1, "kill {number}: {left} files and folders");
    }
    assert!(cut_in_two > 0, "no kill fell between two renames");
}
