use std::fs;

use serde_json::Value;

use crate::fallwright;

/// A command given a file that does not exist: exit code 3, the file named, nothing written.
fn check_missing(args: &str) {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("results");
    let missing = home.path().join("none");
    let args = args.replace("MISSING", missing.to_str().unwrap()).replace("OUT", out.to_str().unwrap());
    let ran = fallwright(args.split_whitespace());
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(3), ""), "{args}: {ran:?}");
    assert!(ran.stderr.contains(missing.to_str().unwrap()), "{args}: {ran:?}");
    assert!(ran.stderr.ends_with("1 problem found; nothing was written\n"), "{args}: {ran:?}");
    assert_eq!(fs::read_dir(home.path()).unwrap().count(), 0, "{args}");
}

#[test]
fn a_missing_input_is_refused() {
    check_missing("check MISSING");
    check_missing("outlets MISSING --out OUT");
    check_missing("watershed MISSING --outlet D-07 --out OUT");
    check_missing("watershed MISSING --at -82.22,43.81 --lonlat --out OUT");
    check_missing("trace MISSING --parcel 0527-010-001-00200");
    check_missing("trace MISSING --at=1,2 --upstream");
    check_missing("terrain MISSING --out OUT --vertical-unit ft");
}

#[test]
fn every_problem_is_told_on_both_streams() {
    let home = tempfile::tempdir().unwrap();
    let case = home.path().join("case.toml");
    fs::write(&case, "naem = \"x\"\n[terrain]\nelevation = [\"none.tif\"]\n[rules]\nabut_tolerance_m = -1\n").unwrap();
    let ran = fallwright(["check", case.to_str().unwrap(), "--json"]);
    assert_eq!(ran.code, Some(3));
    let json: Value = serde_json::from_str(&ran.stdout).unwrap();
    let problems = json["problems"].as_array().unwrap();
    let keys: Vec<_> = problems.iter().map(|problem| problem["feature"].as_str().unwrap()).collect();
    assert_eq!(keys, ["terrain.elevation[1]", "rules.abut_tolerance_m", "naem"]);
    assert!(problems.iter().all(|problem| problem["file"] == case.to_str().unwrap() && problem["layer"].is_null()));
    assert!(problems.iter().all(|problem| problem["at"] == "key"), "{}", ran.stdout);
    assert_eq!(problems[2]["hint"], "did you mean name?");
    for key in keys {
        assert!(ran.stderr.contains(&format!("case.toml, key {key}: found ")), "{ran:?}");
    }
    assert!(ran.stderr.ends_with("3 problems found; nothing was written\n"), "{ran:?}");
}
