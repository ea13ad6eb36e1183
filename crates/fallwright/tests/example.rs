//! The example answers, and writes what the command writes.

#[expect(dead_code, reason = "the example's own entry is not called")]
#[path = "../examples/one_parcel.rs"]
mod one_parcel;

#[test]
fn the_example_answers_and_writes() {
    let home = tempfile::tempdir().unwrap();
    fallwright_demo::write_case(&home.path().join("case"), true).unwrap();
    let out = home.path().join("out");
    let lines = one_parcel::ask(&home.path().join("case/case.toml"), "0527-030-005-00420", &out).unwrap();
    assert!(lines.iter().any(|line| line.contains("lands drain to D-07")), "{lines:#?}");
    assert!(out.join("run.json").is_file());
}
