use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, ChildStderr, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::command;

/// Starts writing the demonstration case and waits until the work is under way.
fn start(dir: &Path) -> (Child, BufReader<ChildStderr>) {
    let mut child =
        command().arg("demo").arg(dir).arg("-v").stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stderr = BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    stderr.read_line(&mut line).unwrap();
    assert!(line.contains("writing the demonstration case"), "{line}");
    (child, stderr)
}

/// Interrupts the writing of the demonstration case after some time: the case is complete or not there at all.
fn check(signal: &str, after: Duration, complete: usize) {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("case");
    let (mut child, _stderr) = start(&dir);
    sleep(after);
    let sent = Instant::now();
    assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
    let code = child.wait().unwrap().code();
    assert!(sent.elapsed() < Duration::from_secs(2), "{signal} after {after:?}: {:?}", sent.elapsed());
    if dir.join("case.toml").exists() {
        assert!(matches!(code, Some(0 | 130)), "{signal} after {after:?}: {code:?}");
        assert_eq!(fs::read_dir(&dir).unwrap().count(), complete, "{signal} after {after:?}");
    } else {
        assert_eq!(code, Some(130), "{signal} after {after:?}");
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0, "{signal} after {after:?}");
    }
}

/// How long the command takes when nothing disturbs it, and how many files it writes.
fn undisturbed() -> (Duration, usize) {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("case");
    let (mut child, _stderr) = start(&dir);
    let begun = Instant::now();
    assert!(child.wait().unwrap().success());
    (begun.elapsed(), fs::read_dir(dir).unwrap().count())
}

#[test]
fn an_interrupt_leaves_nothing_half_written() {
    let (whole, complete) = undisturbed();
    for tenth in 0..10 {
        check("-INT", whole * tenth / 10, complete);
    }
    check("-TERM", whole / 2, complete);
    check("-HUP", whole / 2, complete);
}
