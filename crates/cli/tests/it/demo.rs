use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::{Ran, fallwright};

fn demo(dir: &Path, flags: &[&str]) -> Ran {
    fallwright(["demo", dir.to_str().unwrap()].iter().chain(flags))
}

#[test]
fn the_demonstration_case_is_written_once() {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("case");

    let ran = demo(&dir, &[]);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""), "{ran:?}");
    assert!(ran.stdout.contains("case.toml"), "{ran:?}");
    let case = fs::read(dir.join("case.toml")).unwrap();

    fs::write(dir.join("case.toml"), "mine").unwrap();
    let ran = demo(&dir, &[]);
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(2), ""), "{ran:?}");
    assert!(ran.stderr.contains("not empty"), "{ran:?}");
    assert_eq!(fs::read(dir.join("case.toml")).unwrap(), b"mine");

    let ran = demo(&dir, &["--overwrite", "--json", "-v"]);
    assert_eq!(ran.code, Some(0), "{ran:?}");
    let json: Value = serde_json::from_str(&ran.stdout).unwrap();
    assert_eq!(json["case"], dir.join("case.toml").to_str().unwrap());
    assert!(ran.stderr.contains("writing the demonstration case"), "{ran:?}");
    assert!(!ran.stderr.contains('\u{1b}'), "no colour off a terminal: {ran:?}");
    assert_eq!(fs::read(dir.join("case.toml")).unwrap(), case);
}
