//! The commands on the demonstration case.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use serde_json::Value;
use tempfile::TempDir;

use crate::{Ran, fallwright};

const LAYERS: [&str; 8] = [
    "parcels.geojson",
    "paths.geojson",
    "crossings.geojson",
    "reaches.geojson",
    "watersheds.geojson",
    "links.geojson",
    "buffers.geojson",
    "terrain_changes.geojson",
];
/// The last holds the names of the directions.
const RASTERS: [&str; 4] = ["ground.tif", "area_draining.tif", "direction.tif", "direction.tif.aux.xml"];

/// The demonstration case and what `outlets` made of it, once for all tests here.
struct Demo {
    folder: TempDir,
    outlets: Ran,
}

static DEMO: LazyLock<Demo> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path();
    assert_eq!(fallwright(["demo".as_ref(), dir.join("case").as_os_str()]).code, Some(0));
    let outlets = on(dir, "outlets CASE --out FOLDER/results --json --threads 1");
    Demo { folder, outlets }
});

/// Runs a command line; `CASE` is the demonstration case, `FOLDER` the folder around it.
fn on(folder: &Path, line: &str) -> Ran {
    let folder = folder.to_str().unwrap();
    let line = line.replace("CASE", &format!("{folder}/case/case.toml")).replace("FOLDER", folder);
    fallwright(line.split_whitespace())
}

fn run(line: &str) -> Ran {
    on(DEMO.folder.path(), line)
}

fn file(name: &str) -> PathBuf {
    DEMO.folder.path().join(name)
}

fn json(ran: &Ran) -> Value {
    serde_json::from_str(&ran.stdout).unwrap_or_else(|error| panic!("{error}: {ran:?}"))
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// Values of one property of the parcels, each once.
fn parcel_property(name: &str) -> Vec<String> {
    let parcels: Value = serde_json::from_slice(&fs::read(file("results/parcels.geojson")).unwrap()).unwrap();
    let features = parcels["features"].as_array().unwrap();
    let mut values: Vec<_> =
        features.iter().filter_map(|parcel| parcel["properties"][name].as_str().map(str::to_owned)).collect();
    values.sort();
    values.dedup();
    values
}

#[test]
fn check_finds_no_fault_and_writes_nothing() {
    let before = names(&file("case"));
    let ran = run("check CASE");
    assert_eq!((ran.code, ran.stderr.as_str()), (Some(0), ""), "{ran:?}");
    assert!(!ran.stdout.is_empty());
    assert!(json(&run("check CASE --json")).is_object());
    assert_eq!(names(&file("case")), before);
}

#[test]
fn outlets_writes_every_output_of_the_contract() {
    assert_eq!(DEMO.outlets.code, Some(0), "{:?}", DEMO.outlets);
    assert!(json(&DEMO.outlets).is_object());
    let mut expected: Vec<_> = LAYERS.iter().chain(&RASTERS).map(ToString::to_string).collect();
    expected.push("run.json".to_owned());
    expected.sort();
    assert_eq!(names(&file("results")), expected);
}

#[test]
fn every_standing_occurs() {
    assert_eq!(parcel_property("standing"), ["acquire", "right", "right_in_part", "undecided"]);
}

#[test]
fn an_output_folder_is_not_overwritten_unasked() {
    let before = fs::read(file("results/run.json")).unwrap();
    let ran = run("outlets CASE --out FOLDER/results");
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(2), ""), "{ran:?}");
    assert!(ran.stderr.contains("--overwrite"), "{ran:?}");
    assert_eq!(fs::read(file("results/run.json")).unwrap(), before);
}

#[test]
fn strict_tells_of_undecided_parcels_and_any_number_of_threads_writes_the_same_bytes() {
    let ran = run("outlets CASE --out FOLDER/strict --strict --quiet --threads 3");
    assert_eq!(ran.code, Some(4), "{ran:?}");
    for name in names(&file("results")) {
        let [one, three] = ["results", "strict"].map(|folder| fs::read(file(folder).join(&name)).unwrap());
        assert!(one == three, "{name}");
    }
}

#[test]
fn a_geopackage_on_request() {
    assert_eq!(run("outlets CASE --out FOLDER/gpkg --gpkg").code, Some(0));
    assert!(file("gpkg/fallwright.gpkg").is_file(), "{:?}", names(&file("gpkg")));
}

#[test]
fn a_watershed_of_an_outlet_or_a_point() {
    let outputs = ["watershed.geojson", "watershed_lands.csv", "watershed_parcels.csv"];
    for (folder, place) in [("drain", "--outlet D-07"), ("point", "--at 402000,4851500 --snap 20")] {
        let ran = run(&format!("watershed CASE {place} --out FOLDER/{folder}"));
        assert_eq!(ran.code, Some(0), "{ran:?}");
        assert!(outputs.iter().all(|name| file(folder).join(name).is_file()), "{:?}", names(&file(folder)));
    }
}

#[test]
fn capacity_writes_its_tables_and_says_what_limits() {
    let ran = run("capacity CASE --out FOLDER/capacity --add 0527-010-006-00200=12mm/d");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(ran.stdout.contains("T-1") && ran.stdout.contains("a licensed engineer designs"), "{ran:?}");
    let written = ["capacity.csv", "capacity.geojson", "fall.csv", "parcels.geojson", "run.json"];
    assert_eq!(names(&file("capacity")), written);
    let ran = run("capacity CASE --out FOLDER/capacity2 --add 0527-010-006-00200=12");
    assert_eq!(ran.code, Some(2));
    assert!(ran.stderr.contains("12mm/d"), "{ran:?}");
}

#[test]
fn a_trace_is_a_table_or_geojson() {
    for line in ["trace CASE --parcel 0527-010-001-00200", "trace CASE --at -82.22,43.81 --lonlat --upstream"] {
        let ran = run(line);
        assert_eq!(ran.code, Some(0), "{ran:?}");
        assert!(ran.stdout.lines().count() > 1, "{ran:?}");
        assert_eq!(json(&run(&format!("{line} --json")))["type"], "FeatureCollection");
    }
}

#[test]
fn an_id_or_place_that_is_not_there_is_a_fault_of_usage() {
    for line in [
        "trace CASE --parcel 527",
        "trace CASE --at 0,0",
        "trace CASE --at 43.81,-182.22 --lonlat",
        "watershed CASE --outlet D-99 --out FOLDER/none",
        "watershed CASE --at 0,0 --out FOLDER/none",
        "watershed CASE --at -182.22,43.81 --lonlat --out FOLDER/none",
    ] {
        let ran = run(line);
        assert_eq!((ran.code, ran.stdout.as_str()), (Some(2), ""), "{line}: {ran:?}");
        assert!(ran.stderr.starts_with("error: "), "{line}: {ran:?}");
    }
    assert!(!file("none").exists());
}

#[test]
fn terrain_needs_no_case() {
    let ran = run("terrain FOLDER/case/elevation.tif --out FOLDER/terrain");
    assert_eq!(ran.code, Some(0), "{ran:?}");
    assert!(RASTERS.iter().all(|name| file("terrain").join(name).is_file()), "{:?}", names(&file("terrain")));
}

#[cfg(unix)]
#[test]
fn an_output_folder_that_cannot_be_made_is_a_failure() {
    let ran = run("outlets CASE --out /proc/none");
    assert_eq!((ran.code, ran.stdout.as_str()), (Some(1), ""), "{ran:?}");
    assert!(ran.stderr.contains("/proc/none"), "{ran:?}");
}
