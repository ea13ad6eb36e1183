//! Same input, same bytes: on another run, in another folder, on any number of threads.

use std::collections::BTreeMap;
use std::path::Path;

use fallwright::commands::outlets;
use rayon::ThreadPoolBuilder;

use crate::oxpindle::oxpindle;
use crate::results::{BUDGET, bytes, into, silent};
use crate::small_case::SmallCase;

fn run_on(threads: usize, case: &Path, out: &Path) -> BTreeMap<String, Vec<u8>> {
    let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| {
        outlets(case, &into(out), fallwright::OutletsExtras { geopackage: true, spread: true }, &BUDGET, &silent)
    })
    .unwrap();
    bytes(out)
}

/// Runs a case again on so many threads, each time to another folder.
fn check(case: &Path, first: &BTreeMap<String, Vec<u8>>, threads: &[usize]) {
    for name in ["parcels.geojson", "direction.tif", "fallwright.gpkg", "run.json"] {
        assert!(first.contains_key(name), "no {name} among {:?}", first.keys());
    }
    let home = tempfile::tempdir().unwrap();
    for &threads in threads {
        let again = run_on(threads, case, &home.path().join(format!("on {threads} threads")));
        assert!(first.keys().eq(again.keys()), "{:?}", again.keys());
        for (name, bytes) in first {
            assert!(bytes == &again[name], "{name} differs on {threads} threads");
        }
    }
}

/// The first run of the demonstration case was on as many threads as the machine has cores.
#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    check(&oxpindle().case, &bytes(&oxpindle().out), &[1, 4, 8]);
    let small = SmallCase::sound();
    let case = small.path("case.toml");
    check(&case, &run_on(1, &case, &small.path("first")), &[1, 2, 4, 8]);
}

#[test]
fn the_record_of_a_run_tells_no_path_and_no_time() {
    let case = oxpindle();
    let record = std::fs::read_to_string(case.out.join("run.json")).unwrap();
    let home = case.case.parent().unwrap().parent().unwrap();
    assert!(!record.contains(home.to_str().unwrap()), "{record}");
    let mut values = vec![&case.run];
    while let Some(value) = values.pop() {
        match value {
            serde_json::Value::Object(members) => {
                let timed = ["time", "date", "started", "seconds", "duration", "threads", "host", "user"];
                assert!(!members.keys().any(|key| timed.contains(&key.as_str())), "{members:?}");
                values.extend(members.values());
            }
            serde_json::Value::Array(items) => values.extend(items),
            serde_json::Value::String(text) => assert!(!Path::new(text).is_absolute(), "{text}"),
            _ => {}
        }
    }
}

/// The digests of the record are those of the files.
#[test]
fn the_record_of_a_run_digests_every_other_file() {
    let case = oxpindle();
    let mut found = BTreeMap::new();
    for output in case.run["outputs"].as_array().unwrap() {
        found.insert(output["name"].as_str().unwrap().to_owned(), output["sha256"].as_str().unwrap().to_owned());
    }
    let mut expected = BTreeMap::new();
    for name in bytes(&case.out).into_keys().filter(|name| name != "run.json") {
        let digest = fallwright_geodata::sha256(&case.out.join(&name)).unwrap();
        expected.insert(name, digest);
    }
    assert_eq!(found, expected);
}
