use std::fs;
use std::process::Stdio;

use crate::{command, fallwright};

#[test]
fn completions_go_to_standard_output() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let ran = fallwright(["completions", shell]);
        assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""), "{shell}");
        assert!(ran.stdout.contains("watershed"), "{shell}");
    }
}

#[test]
fn there_is_a_manual_page_for_each_command() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("man/man1");
    let ran = fallwright(["man".as_ref(), dir.as_os_str()]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let mut names: Vec<_> =
        fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    let commands = [
        "capacity",
        "check",
        "completions",
        "demo",
        "man",
        "outlets",
        "petition",
        "sheets",
        "terrain",
        "trace",
        "watershed",
    ];
    let mut expected: Vec<_> = commands.iter().map(|name| format!("fallwright-{name}.1")).collect();
    expected.push("fallwright.1".to_owned());
    assert_eq!(names, expected);
}

#[test]
fn a_reader_that_closes_the_pipe_is_no_failure() {
    let mut child = command().args(["completions", "bash"]).stdout(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[cfg(target_os = "linux")]
#[test]
fn standard_output_that_cannot_be_written_is_a_failure() {
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = command().args(["completions", "bash"]).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("standard output cannot be written"));
}
