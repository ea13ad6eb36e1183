use crate::fallwright;

const COMMON: [&str; 5] = ["--threads <N>", "--max-memory <SIZE>", "--json", "-q, --quiet", "-v, --verbose"];

/// A command's help lists its own flags and, where it works on data, the common ones.
fn check(command: &str, own: &[&str]) {
    let ran = fallwright([command, "--help"]);
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""), "{ran:?}");
    for word in own.iter().chain(&COMMON) {
        assert!(ran.stdout.contains(word), "{command} --help lacks {word}:\n{}", ran.stdout);
    }
    for (option, is_own) in [("--overwrite", own.contains(&"--overwrite")), ("--strict", own.contains(&"--strict"))] {
        assert_eq!(ran.stdout.contains(option), is_own, "{option} of {command}:\n{}", ran.stdout);
    }
    assert!(ran.stdout.contains(&format!("Examples:\n  fallwright {command} ")), "{}", ran.stdout);
}

#[test]
fn every_command_lists_its_flags() {
    check("demo", &["<DIR>", "--overwrite"]);
    check("check", &["<CASE>"]);
    check("outlets", &["<CASE>", "--out <DIR>", "--overwrite", "--strict", "--gpkg"]);
    check(
        "watershed",
        &["<CASE>", "--outlet <ID>", "--at <X,Y>", "--snap <M>", "--lonlat", "--out <DIR>", "--overwrite"],
    );
    check("trace", &["<CASE>", "--parcel <ID>", "--at <X,Y>", "--lonlat", "--upstream"]);
    check("capacity", &["<CASE>", "--out <DIR>", "--overwrite", "--add <PARCEL=12mm/d>"]);
    check(
        "petition",
        &[
            "<CASE>",
            "--area <FILE>",
            "--signed <FILE|IDS>",
            "--add <FILE|IDS>",
            "--withdraw <FILE|IDS>",
            "--remonstrance",
            "--stage <NAME>",
            "--earlier <FILE>",
            "--outlet <ID>",
            "--at <X,Y>",
            "--lonlat",
            "--out <DIR>",
            "--overwrite",
            "--paper <SIZE>",
            "--font <FILE>",
        ],
    );
    check(
        "sheets",
        &[
            "<CASE>",
            "--out <DIR>",
            "--overwrite",
            "--strict",
            "--parcel <ID>",
            "--all-parcels",
            "--paper <SIZE>",
            "11x17",
            "--no-pdf",
            "--font <FILE>",
        ],
    );
    check("terrain", &["<DEM>", "--out <DIR>", "--overwrite", "--vertical-unit <UNIT>", "m, ft, us-ft"]);
}

#[test]
fn the_whole_says_its_commands_exit_codes_and_cautions() {
    let ran = fallwright(["--help"]);
    assert_eq!(ran.code, Some(0));
    let words = [
        "demo",
        "check",
        "outlets",
        "watershed",
        "trace",
        "capacity",
        "petition",
        "terrain",
        "sheets",
        "completions",
        "man",
        "130  interrupted",
        "Only a court decides a right",
    ];
    for word in words {
        assert!(ran.stdout.contains(word), "--help lacks {word}:\n{}", ran.stdout);
    }
}

#[test]
fn the_version_is_that_of_the_package() {
    let ran = fallwright(["--version"]);
    assert_eq!(ran.stdout, format!("fallwright {}\n", env!("CARGO_PKG_VERSION")));
}
