//! Tile water: whose land a main crosses, where it ends and whether it may, end to end.
//!
//! The valley of the small case, falling south and to the creek in its middle. Parcel 001 (A. Fielding) lies west of parcel 002
//! (B. Thistlewood), which lies between it and the creek in the south; in the north 001 reaches the creek itself. Land of 001 is
//! drained by main T. A cell is 10 m, and an end of a main is moved by no more than 15 m.

use fallwright::commands::{Pdf, sheets};
use fallwright::{Error, SheetParcels, SheetsOptions};
use serde_json::{Value, json};

use crate::results::{BUDGET, into, list, number, properties, read_json, silent, text, texts};
use crate::small_case::{SmallCase, line, polygon, ring};

/// The ends of a main, metres east and north.
type Ends = [[f64; 2]; 2];

/// Under 002 to the creek; to the middle of 002; from there on; on own land to the creek.
const TO_CREEK: Ends = [[75.0, 105.0], [200.0, 95.0]];
const TO_NEIGHBOUR: Ends = [[75.0, 105.0], [145.0, 95.0]];
const ON_FROM_THERE: Ends = [[145.0, 95.0], [200.0, 75.0]];
const ON_OWN_LAND: Ends = [[75.0, 285.0], [200.0, 275.0]];
/// A main of 002 to the creek, and one that ends on its line.
const OF_NEIGHBOUR: Ends = [[130.0, 130.0], [200.0, 70.0]];
const INTO_THAT: Ends = [[75.0, 105.0], [165.0, 100.0]];

fn case(neighbour: &str, mains: &[(&str, Ends)]) -> SmallCase {
    let case = SmallCase::sound();
    let own = json!({ "roll": "001", "owner": "A. Fielding" });
    let corners =
        [[20.0, 20.0], [110.0, 20.0], [110.0, 200.0], [200.0, 200.0], [200.0, 380.0], [20.0, 380.0], [20.0, 20.0]];
    let other = polygon(json!({ "roll": "002", "owner": neighbour }), (110.0, 200.0), (20.0, 200.0));
    case.layer("parcels.geojson", &[ring(own, &corners), other]);
    case.layer("roads.geojson", &[polygon(json!({}), (0.0, 400.0), (385.0, 400.0))]);
    let main = |&(id, ends): &(&str, Ends)| line(json!({ "id": id, "class": "private_tile" }), ends);
    case.layer("mains.geojson", &mains.iter().map(main).collect::<Vec<_>>());
    case.layer("tiled.geojson", &[polygon(json!({ "main": "T" }), (30.0, 100.0), (60.0, 160.0))]);
    case
}

/// The creek as a municipal drain, with what its schedule lists.
fn as_drain(case: &SmallCase, schedule: &str) {
    let drain = json!({ "id": "WC", "kind": "municipal_drain", "parties": null });
    case.layer("creek.geojson", &[line(drain, [[200.0, 395.0], [200.0, 5.0]])]);
    case.write("schedule.csv", format!("roll,ha\n{schedule}"));
}

fn layer(case: &SmallCase, name: &str) -> Vec<Value> {
    properties(&read_json(&case.path(&format!("out/{name}.geojson"))))
}

/// Both parcels, and the one record of parcel 001's piped water.
fn run(case: &SmallCase) -> (Vec<Value>, Value) {
    case.run().unwrap_or_else(|failure| panic!("{failure}"));
    let parcels = layer(case, "parcels");
    let [piped] = list(&parcels[0], "piped") else { panic!("one record in {}", parcels[0]["piped"]) };
    let piped = piped.clone();
    (parcels, piped)
}

#[track_caller]
fn check(case: &SmallCase, standing: &str, basis: &Value, outlet: &str, reasons: &[&str]) -> Vec<Value> {
    let (parcels, piped) = run(case);
    let found = (text(&piped, "standing"), &piped["basis"], text(&piped, "outlet_id"), texts(&piped, "reasons"));
    assert_eq!(found, (standing, basis, outlet, reasons.to_vec()));
    let without_right = texts(&parcels[0], "reasons").contains(&"piped_water_without_right");
    assert_eq!(without_right, standing == "acquire");
    let [right, acquire, undecided] = ["right_ha", "acquire_ha", "undecided_ha"].map(|key| number(&parcels[0], key));
    assert!((right + acquire + undecided - number(&parcels[0], "own_ha")).abs() < 1e-3, "{}", parcels[0]);
    parcels
}

/// Tiled land of 70 m by 100 m; 90 m under parcel 002.
#[test]
fn a_main_under_a_neighbour_into_a_creek_needs_his_agreement() {
    let case = case("B. Thistlewood", &[("T", TO_CREEK)]);
    let parcels = check(&case, "right", &json!("natural_watercourse"), "WC", &["piped_under_neighbour"]);
    let piped = &list(&parcels[0], "piped")[0];
    assert!((number(piped, "hectares") - 0.7).abs() < 1e-9, "{piped}");
    let [land] = list(piped, "lands_crossed") else { panic!("one land in {piped}") };
    assert_eq!((text(land, "kind"), text(land, "id")), ("parcel", "002"));
    assert!((number(land, "metres") - 90.0).abs() <= 15.0, "{land}");

    let crossings = layer(&case, "crossings");
    let [crossing] = &crossings.iter().filter(|crossing| crossing["water"] == "piped").collect::<Vec<_>>()[..] else {
        panic!("one crossing in {crossings:?}")
    };
    let found = ["pipe_id", "to_id", "carried_by", "carrier_id"].map(|key| text(crossing, key));
    assert_eq!(found, ["T", "002", "pipe", "T"]);
    assert_eq!((&crossing["share"], &crossing["metres_on_land"]), (&Value::Null, &land["metres"]));
    let paths = layer(&case, "paths");
    let path = paths.iter().find(|path| path["water"] == "piped").expect("a piped path");
    assert_eq!((text(path, "pipe_id"), text(path, "outlet_id"), text(path, "ends")), ("T", "WC", "edge"));
    assert_eq!(texts(path, "parcels_crossed"), ["002"]);
    assert!((number(path, "path_m") - 125.0).abs() <= 30.0, "{path}");
    assert_eq!(path["path_m"], piped["path_m"]);

    let expected = json!([{ "kind": "parcel", "id": "001", "hectares": 0.7, "pipe_id": "T" }]);
    assert_eq!(parcels[1]["receives_piped_from"], expected);
    assert_eq!(parcels[0]["receives_piped_from"], json!([]));
    let ways = list(&parcels[0], "ways_to_acquire");
    let agreement = ways.iter().find(|way| text(way, "way") == "mutual_agreement").expect("an agreement");
    assert_eq!((texts(agreement, "serves"), texts(agreement, "pipes")), (vec!["piped"], vec!["T"]));
    let asked = &list(agreement, "consents")[0];
    assert_eq!((text(asked, "id"), text(asked, "owner")), ("002", "B. Thistlewood"));
    assert_eq!(asked["metres"], land["metres"]);
    assert!(text(&parcels[0], "next_step").contains("0.70 ha that pipe T drains"), "{}", parcels[0]["next_step"]);
}

#[test]
fn a_main_into_a_drain_is_judged_by_its_schedule() {
    let listed = |schedule: &str| {
        let case = case("B. Thistlewood", &[("T", TO_CREEK)]);
        as_drain(&case, schedule);
        case
    };
    let not_listed = ["not_in_schedule", "piped_under_neighbour"];
    let parcels = check(&listed("002,1.6\n"), "acquire", &Value::Null, "WC", &not_listed);
    let ways = list(&parcels[0], "ways_to_acquire");
    let connection = ways.iter().find(|way| text(way, "way") == "connection").expect("a connection");
    assert_eq!(texts(connection, "pipes"), ["T"]);
    check(&listed("001,4.86\n"), "right", &json!("municipal_drain"), "WC", &["piped_under_neighbour"]);
}

#[test]
fn a_main_that_ends_on_a_neighbour_casts_collected_water_on_him() {
    let case = case("B. Thistlewood", &[("T", TO_NEIGHBOUR)]);
    let reasons = ["piped_under_neighbour", "collected_water_on_neighbour"];
    let parcels = check(&case, "acquire", &Value::Null, "WC", &reasons);
    let kinds: Vec<&str> = list(&parcels[0], "ways_to_acquire").iter().map(|way| text(way, "way")).collect();
    assert!(kinds.starts_with(&["lead_to_own_frontage", "mutual_agreement"]), "{kinds:?}");
}

#[test]
fn a_main_into_a_main_goes_on_by_pipe() {
    let case = case("B. Thistlewood", &[("T", TO_NEIGHBOUR), ("U", ON_FROM_THERE)]);
    // The second main runs in a class that gives nobody a right of its own.
    let reasons = ["piped_under_neighbour"];
    check(&case, "right", &json!("natural_watercourse"), "WC", &reasons);
}

/// Its water comes to the surface nowhere before the creek.
#[test]
fn a_main_that_joins_another_part_way_goes_on_in_it() {
    let case = case("B. Thistlewood", &[("T", INTO_THAT), ("U", OF_NEIGHBOUR)]);
    check(&case, "right", &json!("natural_watercourse"), "WC", &["piped_under_neighbour"]);
    let joins: Vec<Value> = layer(&case, "links").into_iter().filter(|link| link["link_id"] == "T").collect();
    assert_eq!(joins[0]["joins"], "U");
    let piped: Vec<Value> =
        layer(&case, "crossings").into_iter().filter(|crossing| crossing["water"] == "piped").collect();
    assert_eq!((piped.len(), text(&piped[0], "to_id")), (1, "002"));
}

/// Straight from end to end it would lie under parcel 002.
#[test]
fn a_main_is_followed_around_its_bends() {
    let case = case("B. Thistlewood", &[]);
    let bent = line(json!({ "id": "T", "class": "private_tile" }), [[75.0, 105.0], [75.0, 285.0], [200.0, 275.0]]);
    case.layer("mains.geojson", &[bent]);
    let parcels = check(&case, "right", &json!("natural_watercourse"), "WC", &[]);
    assert_eq!(list(&parcels[0], "piped")[0]["lands_crossed"], json!([]));
}

#[test]
fn mains_that_end_on_each_other_are_refused() {
    let mains = [("T", INTO_THAT), ("U", [[200.0, 150.0], [165.0, 60.0]]), ("V", [[165.0, 130.0], [165.0, 70.0]])];
    let into_each_other = [("T", [[60.0, 105.0], [160.0, 105.0]]), ("U", [[160.0, 60.0], [160.0, 150.0]])];
    assert!(case("B. Thistlewood", &mains).run().is_ok());
    assert!(case("B. Thistlewood", &into_each_other).run().is_ok());
    // Each ends on the line of the next.
    let round = [
        ("T", [[60.0, 100.0], [150.0, 100.0]]),
        ("U", [[150.0, 60.0], [150.0, 150.0]]),
        ("V", [[180.0, 150.0], [90.0, 150.0]]),
        ("W", [[90.0, 180.0], [90.0, 100.0]]),
    ];
    let Err(Error::Refused(problems)) = case("B. Thistlewood", &round).run() else { panic!("a loop is not refused") };
    let found: Vec<&str> = problems.iter().map(|problem| problem.found.as_str()).collect();
    assert_eq!(found, ["a loop of pipes that end on each other's lines: T, U, V, W, and back to T"]);
}

#[test]
fn a_main_on_own_land_crosses_nobody() {
    let case = case("B. Thistlewood", &[("T", ON_OWN_LAND)]);
    let parcels = check(&case, "right", &json!("natural_watercourse"), "WC", &[]);
    assert_eq!(list(&parcels[0], "piped")[0]["lands_crossed"], json!([]));
    assert_eq!(parcels[1]["receives_piped_from"], json!([]));
}

#[test]
fn nobody_is_asked_for_another_parcel_of_his_own() {
    let case = case("A. Fielding", &[("T", TO_NEIGHBOUR)]);
    let parcels = check(&case, "right", &json!("natural_watercourse"), "WC", &[]);
    assert_eq!(list(&parcels[0], "piped")[0]["lands_crossed"], json!([]));
    assert_eq!(parcels[0]["ways_to_acquire"], json!([]));
    assert_eq!(text(&list(&parcels[1], "receives_piped_from")[0], "id"), "001");
}

#[test]
fn a_trace_tells_the_tile_water_first() {
    let case = case("B. Thistlewood", &[("T", TO_NEIGHBOUR)]);
    let from = fallwright::Place::Parcel("001".to_owned());
    let (lines, features) = crate::results::trace(&case.path("case.toml"), &from).unwrap();
    let position = |start: &str| lines.iter().position(|line| line.starts_with(start)).expect(start);
    assert!(position("by pipe T: 0.70 ha") < position("share 1"), "{lines:#?}");
    let words = lines.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("collected water may not be cast on a neighbour"), "{lines:#?}");
    let features = properties(&features);
    assert_eq!((text(&features[0], "kind"), text(&features[0], "pipe_id")), ("crossing", "T"));
    let path = features.iter().find(|feature| feature["kind"] == "path").expect("a path");
    assert_eq!((text(path, "water"), text(&list(path, "piped")[0], "standing")), ("piped", "acquire"));
}

#[test]
fn the_page_the_sheet_and_the_letter_tell_the_tile_water() {
    let case = case("B. Thistlewood", &[("T", TO_CREEK)]);
    let parcels = SheetParcels::Ids(vec!["001".to_owned()]);
    let options = SheetsOptions { run_date: "2026-11-30".to_owned(), parcels, ..SheetsOptions::default() };
    let out = case.path("sheets");
    sheets(&case.path("case.toml"), &into(&out), (&options, Pdf::LeftOut), &BUDGET, &silent).unwrap();
    let check = |name: &str, words: &str| {
        let drawn = std::fs::read_to_string(out.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(drawn.contains(words), "{name} without {words}");
    };
    check("water_path_001.svg", "Tile water by pipe T crosses parcel 002 (B. Thistlewood)");
    check("letter_001_1.svg", "A tile main, pipe T, takes water from my land to yours.");
    check("overview.html", "Tile water by pipe T crosses parcel 002 (B. Thistlewood)");
}
