//! Layers of constraints: what paths and parcels meet, whom to ask about it, what is refused and what is noted.

use fallwright::Error;
use fallwright::report::terminal;
use fallwright_units::ParcelIx;
use serde_json::{Value, json};

use crate::oxpindle::oxpindle;
use crate::results::{BUDGET, list, number, properties, read_json, silent, text, texts, trace};
use crate::small_case::{SmallCase, line, polygon, ring};

/// The small case with a layer of constraints, whose table has further lines.
fn case(table: &str, features: &[Value]) -> SmallCase {
    let case = SmallCase::sound();
    case.layer("constraints.geojson", features);
    case.edit("[rules]", &format!("[[constraints]]\nsource = \"constraints.geojson\"\n{table}\n\n[rules]"));
    case
}

fn run(case: &SmallCase) {
    if let Err(failure) = case.run() {
        panic!("{failure:?}");
    }
}

fn layer(case: &SmallCase, name: &str) -> Vec<Value> {
    properties(&read_json(&case.path("out").join(name)))
}

/// Every problem of a case that is refused.
fn refused(case: &SmallCase) -> Vec<String> {
    match case.run() {
        Err(Error::Refused(problems)) => problems.iter().map(ToString::to_string).collect(),
        Err(other) => panic!("not refused: {other}"),
        Ok(_) => panic!("not refused"),
    }
}

const WETLAND: &str = "kind = \"wetland\"\nid = \"id\"\nname = \"name\"";

/// An area over all of the valley: every path runs inside it, and every parcel lies in it.
#[test]
fn an_area_over_everything_is_met_by_everything() {
    let case = case(WETLAND, &[polygon(json!({ "id": "W-1", "name": "Wide fen" }), (0.0, 400.0), (0.0, 400.0))]);
    run(&case);
    for path in layer(&case, "paths.geojson").iter().filter(|path| number(path, "path_m") > 0.0) {
        let [met] = list(path, "constraints") else { panic!("{path}") };
        assert_eq!((text(met, "kind"), text(met, "id"), text(met, "name")), ("wetland", "W-1", "Wide fen"));
        assert!((number(met, "metres") - number(path, "path_m")).abs() < 0.01, "{path}");
        assert_eq!((&met["places"], &met["hectares"], &met["line_m"]), (&json!(1), &Value::Null, &Value::Null));
    }
    for parcel in layer(&case, "parcels.geojson") {
        let [met] = list(&parcel, "constraints") else { panic!("{parcel}") };
        assert!((number(met, "hectares") - number(&parcel, "area_ha")).abs() < 1e-4, "{parcel}");
        assert!(text(met, "ask").starts_with("the conservation authority"), "{parcel}");
        assert!(text(met, "source").ends_with("from memory (not confirmed)"), "{parcel}");
    }
    let inputs = read_json(&case.path("out/run.json"))["inputs"].to_string();
    assert!(inputs.contains("constraints.geojson"), "{inputs}");
}

/// A line from south to north through the west parcel, which reaches from 20 to 380 m.
#[test]
fn a_line_on_a_parcel_has_its_metres_there() {
    let main = line(json!({ "id": "U-1", "carries": "gas" }), [[60.0, -50.0], [60.0, 450.0]]);
    let case = case("kind = \"Utility\"\nid = \"id\"\nclass = \"carries\"", &[main]);
    run(&case);
    let parcels = layer(&case, "parcels.geojson");
    let [met] = list(&parcels[0], "constraints") else { panic!("{}", parcels[0]) };
    assert_eq!((text(met, "kind"), text(met, "class"), &met["name"]), ("utility", "gas", &Value::Null));
    assert!((number(met, "line_m") - 360.0).abs() < 0.01, "{met}");
    assert_eq!(text(met, "ask"), "the utility and the locate service, before any digging");
    assert!(list(&parcels[1], "constraints").is_empty(), "{}", parcels[1]);
}

/// Nothing is said of the land where no layer is given.
#[test]
fn without_a_layer_nothing_is_known() {
    let case = SmallCase::sound();
    run(&case);
    let features = [layer(&case, "paths.geojson"), layer(&case, "parcels.geojson")].concat();
    assert!(!features.is_empty());
    for feature in &features {
        assert_eq!(feature["constraints"], json!([]));
    }
    let study = fallwright::open(&case.path("case.toml"), &BUDGET, &silent).unwrap();
    assert!(study.constraints_in(&study.inputs.parcels[ParcelIx(0)].shape).is_empty());
}

#[test]
fn an_unknown_kind_is_noted_with_the_nearest_one() {
    let case = case("kind = \"wetlnd\"", &[polygon(json!({}), (0.0, 400.0), (0.0, 400.0))]);
    run(&case);
    let warnings = read_json(&case.path("out/run.json"))["warnings"].to_string();
    for words in ["wetlnd", "the nearest kind that it lists is", "wetland", "ask the municipal clerk"] {
        assert!(warnings.contains(words), "no {words:?} in {warnings}");
    }
    let parcels = layer(&case, "parcels.geojson");
    let met = &list(&parcels[0], "constraints")[0];
    assert_eq!((text(met, "kind"), &met["id"], text(met, "ask")), ("wetlnd", &Value::Null, "the municipal clerk"));
    assert_eq!(met["source"], Value::Null);
}

/// A bow tie, a point, and a field that is not there: all named at once.
#[test]
fn faults_are_named_together_and_a_crossed_ring_is_mended_where_asked() {
    let bow_tie = ring(json!({ "id": "W-1" }), &[[50.0, 50.0], [50.0, 51.0], [51.0, 50.0], [51.0, 51.0], [50.0, 50.0]]);
    let mut point = polygon(json!({ "id": "W-2" }), (60.0, 70.0), (60.0, 70.0));
    point["geometry"] = json!({ "type": "Point", "coordinates": [400_060.0, 4_850_060.0] });
    let spoilt = case("kind = \"wetland\"\nid = \"id\"\nname = \"title\"", &[bow_tie.clone(), point]);
    let problems = refused(&spoilt).join("\n");
    for words in ["W-1 (number 1)", "repair = true", "W-2 (number 2)", "a polygon or a line", "no field \"title\""] {
        assert!(problems.contains(words), "no {words:?} in {problems}");
    }
    let mended = case("kind = \"wetland\"\nid = \"id\"\nrepair = true", &[bow_tie]);
    run(&mended);
    let parcels = layer(&mended, "parcels.geojson");
    // Two triangles of a quarter of a square metre are left of it: less than is written.
    assert_eq!(text(&list(&parcels[0], "constraints")[0], "id"), "W-1");
}

/// Lot 5, concession III, east part of north half: its way leads through the marsh and over the gas main, as planned.
#[test]
fn a_way_names_whom_to_ask_about_what_it_meets() {
    let id = "0527-030-005-00420";
    let parcel = oxpindle().parcel(id);
    let met: Vec<&str> = list(parcel, "constraints").iter().map(|met| text(met, "id")).collect();
    assert_eq!(met, ["W-1", "U-1"]);
    let ways = list(parcel, "ways_to_acquire");
    assert!(!ways.is_empty());
    for way in ways {
        let steps = texts(way, "steps").join(" ");
        let along_path = !matches!(text(way, "way"), "lead_to_own_frontage" | "road_authority_permission");
        for words in [
            "the wetland Wickerfen marsh (W-1)",
            "ask the conservation authority and the natural resources ministry, before any works.",
            "the utility Oxpindle gas main (U-1), class gas",
            "ask the utility and the locate service, before any digging.",
        ] {
            assert_eq!(steps.contains(words), along_path, "{words:?} in {steps}");
        }
    }
    let (lines, features) = trace(&oxpindle().case, &fallwright::Place::Parcel(id.to_owned())).unwrap();
    let words = lines.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("meets the wetland Wickerfen marsh (W-1) over "), "{words}");
    let paths: Vec<Value> = properties(&features).into_iter().filter(|feature| feature["kind"] == "path").collect();
    let paths_met: Vec<&str> = list(&paths[0], "constraints").iter().map(|met| text(met, "id")).collect();
    assert_eq!(paths_met, ["W-1", "U-1"]);
}

/// On a terminal a finding lists the same, in the words of the page and the sheets.
#[test]
fn a_finding_on_a_terminal_lists_what_works_would_meet() {
    let study = fallwright::open(&oxpindle().case, &BUDGET, &silent).unwrap();
    let id = "0527-030-005-00420";
    let parcel = study.parcel(id).unwrap();
    let leaving = study.leaving(&fallwright::Place::Parcel(id.to_owned())).unwrap();
    let lines = terminal::finding::finding(&study, parcel, &study.finding(id).unwrap(), &leaving, false);
    let words = lines.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("The wetland Wickerfen marsh (W-1): met by the main path over "), "{words}");
}
