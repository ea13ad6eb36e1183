//! Input that is sound in itself and wrong for its purpose, as it comes from everyday slips.

use std::fs;
use std::path::Path;

use fallwright::commands::{TerrainOptions, check, outlets, terrain, watershed};
use fallwright::report::terminal;
use fallwright::{Error, MapPoint, OutletsExtras, Place};
use fallwright_units::VerticalUnit;
use serde_json::json;

use crate::results::{BUDGET, bytes, into, over, properties, read_json, silent, text, trace, usage};
use crate::small_case::{SmallCase, height, parcel, polygon};

fn refused(case: &SmallCase) -> String {
    let Err(Error::Refused(problems)) = case.run() else { panic!("not refused") };
    assert!(!case.path("out").exists(), "something was written");
    assert_eq!(problems.len(), 1, "one fault: {problems:#?}");
    problems[0].to_string()
}

fn check_words(message: &str, expected: &[&str]) {
    for word in expected {
        assert!(message.contains(word), "no {word:?} in {message}");
    }
}

/// The case's parcels are in `parcels.geojson`, which is an output's name too.
#[test]
fn no_output_takes_the_place_of_an_input() {
    let case = SmallCase::sound();
    let (file, folder) = (case.path("case.toml"), case.path(""));
    let before = bytes(&folder);
    let unharmed = |message: String| {
        check_words(&message, &["holds the input", "name another folder"]);
        assert!(bytes(&folder) == before, "an input was changed");
    };
    unharmed(usage(outlets(&file, &over(&folder), OutletsExtras::default(), &BUDGET, &silent)));
    unharmed(usage(outlets(&file, &over(&folder.join(".")), OutletsExtras::default(), &BUDGET, &silent)));
    unharmed(usage(watershed(&file, (&Place::Outlet("WC".to_owned()), 0.0), &over(&folder), &BUDGET, &silent)));
    let options = TerrainOptions { vertical_unit: Some(VerticalUnit::Metre), ..TerrainOptions::default() };
    unharmed(usage(terrain(&case.path("elevation.tif"), &options, &over(&folder), &BUDGET, &silent)));
}

/// The case's elevation is a link to a file in the output folder, whose name is an output's too.
#[cfg(unix)]
#[test]
fn no_output_takes_the_place_of_the_file_that_a_link_leads_to() {
    let case = SmallCase::sound();
    let (link, target) = (case.path("elevation.tif"), case.path("out/ground.tif"));
    fs::create_dir(target.parent().unwrap()).unwrap();
    fs::rename(&link, &target).unwrap();
    std::os::unix::fs::symlink("out/ground.tif", &link).unwrap();
    let before = fs::read(&target).unwrap();
    let folder = case.path("out");
    let out = over(&folder);
    let options = TerrainOptions { vertical_unit: Some(VerticalUnit::Metre), ..TerrainOptions::default() };
    for message in [
        usage(outlets(&case.path("case.toml"), &out, OutletsExtras::default(), &BUDGET, &silent)),
        usage(terrain(&link, &options, &out, &BUDGET, &silent)),
    ] {
        check_words(&message, &["out holds the input", "elevation.tif", "name another folder"]);
        assert_eq!(fs::read(&target).unwrap(), before);
    }
}

/// An unfinished feature at the origin of the coordinates, first in the order of ids, leaves the others their findings.
#[test]
fn a_parcel_far_away() {
    let case = SmallCase::sound();
    let mut far = polygon(json!({ "roll": "000", "owner": null }), (0.0, 0.0), (0.0, 0.0));
    far["geometry"]["coordinates"] = json!([[[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]]);
    case.layer("parcels.geojson", &[far, parcel("001", (20.0, 200.0)), parcel("002", (200.0, 380.0))]);
    case.run().unwrap();
    let found = properties(&read_json(&case.path("out/parcels.geojson")));
    let standings: Vec<_> = found.iter().map(|parcel| (text(parcel, "parcel_id"), text(parcel, "standing"))).collect();
    assert_eq!(standings, [("000", "undecided"), ("001", "right"), ("002", "right")]);
}

/// Both its corners' latitudes are the earth's, and no transformation is meant for them.
#[test]
fn a_parcel_that_reaches_over_the_earth() {
    let case = SmallCase::sound();
    let mut wide = parcel("001", (20.0, 380.0));
    wide["geometry"]["coordinates"] = json!([[[-1e6, 0.0], [2e6, 0.0], [2e6, 9e6], [-1e6, 9e6], [-1e6, 0.0]]]);
    case.layer("parcels.geojson", &[wide]);
    case.write("schedule.csv", "roll,ha\n001,6.5\n");
    case.run().unwrap();
    assert_eq!(properties(&read_json(&case.path("out/parcels.geojson"))).len(), 1);
}

#[test]
fn a_parcel_with_a_corner_off_the_earth() {
    let case = SmallCase::sound();
    let mut nowhere = parcel("002", (200.0, 380.0));
    nowhere["geometry"]["coordinates"][0][2] = json!([90_000_000.0, 4_850_380.0]);
    case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), nowhere]);
    check_words(&refused(&case), &["parcels.geojson", "002", "90000000", "a place on the earth"]);
}

/// A spreadsheet takes roll numbers for numbers.
#[test]
fn a_schedule_whose_ids_lost_their_zeros() {
    let case = SmallCase::sound();
    case.write("schedule.csv", "roll,ha\n1,6.5\n002,6.5\n");
    check_words(&refused(&case), &["schedule.csv", "1 (001 in the layer)", "leading zeros", "spreadsheet"]);
}

#[test]
fn a_schedule_that_is_no_comma_separated_text() {
    let refuses = |content: &[u8], expected: &[&str]| {
        let case = SmallCase::sound();
        case.edit("hectares = \"ha\"", "hectares = \"roll\"");
        case.write("schedule.csv", content);
        check_words(&refused(&case), expected);
    };
    refuses(b"roll;ha\n001;6.5\n", &["schedule.csv", "no column \"roll\"; there are roll;ha", "commas"]);
    refuses(b"", &["no column \"roll\"; there are none"]);
    refuses(b"roll,ha,n\xe9v\n001,6.5,x\n", &["schedule.csv", "UTF-8"]);
}

/// Reading from it would never end.
#[cfg(unix)]
#[test]
fn a_device_for_a_file() {
    let case = SmallCase::sound();
    case.edit("\"schedule.csv\"", "\"/dev/zero\"");
    check_words(&refused(&case), &["schedules[1].source", "/dev/zero", "a pipe or a device"]);
}

#[test]
fn places_that_are_not_there() {
    let case = SmallCase::sound();
    let file = case.path("case.toml");
    let at = |x, y, lonlat| {
        let place = Place::Point(MapPoint { x, y, lonlat });
        usage(watershed(&file, (&place, 0.0), &into(Path::new("out")), &BUDGET, &silent))
    };
    check_words(&at(43.8, -82.2, true), &["no elevation at 43.8, -82.2", "longitude comes first"]);
    check_words(&at(-82.2, 43.8, false), &["no elevation at -82.2, 43.8", "--lonlat"]);
}

/// The cell at column 5, row 5 has no height; its centre is 55 m east and 345 m north of the corner.
#[test]
fn a_point_without_elevation_is_not_called_outside() {
    let case = SmallCase::sound();
    case.ground(|col, row| if (col, row) == (5, 5) { f32::NAN } else { height(col, row) });
    let file = case.path("case.toml");
    let gap = Place::Point(MapPoint { x: 400_055.0, y: 4_850_345.0, lonlat: false });
    let expected = "the elevation has no height at 400055, 4850345: the point lies within its extent";
    check_words(&usage(trace(&file, &gap)), &[expected]);
    check_words(&usage(watershed(&file, (&gap, 0.0), &into(Path::new("out")), &BUDGET, &silent)), &[expected]);
}

#[test]
fn a_parcel_asked_for_where_no_layer_holds_any() {
    let case = SmallCase::sound();
    let text = fs::read_to_string(case.path("case.toml")).unwrap();
    let without = |text: &str, from: &str, to: &str| {
        let (start, end) = (text.find(from).unwrap(), text.find(to).unwrap());
        format!("{}{}", &text[..start], &text[end..])
    };
    case.write("case.toml", without(&without(&text, "[parcels]", "[[waterways]]"), "[[schedules]]", "[roads]"));
    let from = Place::Parcel("001".to_owned());
    let asked = trace(&case.path("case.toml"), &from);
    check_words(&usage(asked), &["no [parcels] table", "--at"]);
    let checked = check(&case.path("case.toml"), &BUDGET, &silent).unwrap();
    let printed = terminal::check::check(&checked).join("\n");
    check_words(&printed, &["without [parcels] only watershed and trace --at can be run"]);
}
