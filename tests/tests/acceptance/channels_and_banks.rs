//! One channel mapped twice, and what lies between a parcel and the bank.

use serde_json::{Value, json};

use crate::results::{list, properties, read_json, text};
use crate::small_case::{SmallCase, creek, line, polygon};

fn run(case: &SmallCase, layer: &str) -> Vec<Value> {
    case.run().unwrap_or_else(|failure| panic!("{failure}"));
    properties(&read_json(&case.path(&format!("out/{layer}.geojson"))))
}

fn lot(roll: &str, owner: &str, u: (f64, f64)) -> Value {
    polygon(json!({ "roll": roll, "owner": owner }), u, (20.0, 380.0))
}

fn has_evidence(parcel: &Value, measure: &str, value: &Value) -> bool {
    list(parcel, "evidence").iter().any(|item| text(item, "measure") == measure && item["value"] == *value)
}

/// Test Creek with a drain in the same channel for its lower part, drawn a metre and a half beside it, and its schedule.
fn improved_creek(drain_first: bool) -> SmallCase {
    let case = SmallCase::sound();
    let drain = line(json!({ "id": "D", "kind": "municipal_drain", "parties": null }), [[201.5, 300.0], [201.5, 5.0]]);
    let mut waterways = vec![creek([[200.0, 395.0], [200.0, 5.0]]), drain];
    if drain_first {
        waterways.reverse();
    }
    case.layer("creek.geojson", &waterways);
    case.edit("drain = \"WC\"", "drain = \"D\"");
    case.write("schedule.csv", "roll,ha\n001,6.5\n");
    case
}

/// What a natural watercourse improved as a municipal drain confers: reference of the trade, common law and Drainage Act.
#[test]
fn a_creek_improved_as_a_drain_has_both_statuses() {
    for drain_first in [false, true] {
        let case = improved_creek(drain_first);
        let parcels = run(&case, "parcels");
        for parcel in &parcels {
            assert_eq!((text(parcel, "standing"), text(parcel, "basis")), ("right", "natural_watercourse"));
            assert!(has_evidence(parcel, "same_channel_as", &json!("D")), "{parcel}");
            assert!(list(parcel, "reasons").contains(&json!("same_channel")));
        }
        let bases: Vec<_> = parcels.iter().map(|parcel| list(parcel, "bases").len()).collect();
        assert_eq!(bases, [2, 1], "only the first is assessed into the drain");
        assert!(has_evidence(&parcels[0], "assessed_hectares", &json!(6.5)));
        assert!(has_evidence(&parcels[1], "listed_in_schedule", &json!(false)));
    }
}

#[test]
fn paths_do_not_flip_between_lines_of_one_channel() {
    let case = improved_creek(false);
    let reaches = run(&case, "reaches");
    let shown: Vec<(&str, usize)> =
        reaches.iter().map(|reach| (text(reach, "waterway_id"), list(reach, "also").len())).collect();
    assert!(shown.iter().all(|(waterway, _)| *waterway == "WC"), "{shown:?}");
    assert!(shown.iter().any(|(_, also)| *also == 0) && shown.iter().any(|(_, also)| *also == 1), "{shown:?}");
    assert!(shown.len() <= 5, "{shown:?}");
    let alone = SmallCase::sound();
    let flows = |case: &SmallCase| std::fs::read(case.path("out/direction.tif")).unwrap();
    run(&alone, "reaches");
    assert_eq!(flows(&case), flows(&alone), "the second line changes no path");
}

/// Common practice, no source: a parcel cut off from the bank by a strip, however narrow, does not abut.
#[test]
fn a_strip_kept_back_along_the_bank_cuts_a_parcel_off() {
    let case = SmallCase::sound();
    let behind = || lot("002", "B. Thistlewood", (201.5, 380.0));
    let west = || lot("001", "Dorothea Inkwell", (20.0, 200.0));
    case.layer("parcels.geojson", &[west(), behind()]);
    let standing = |parcels: &[Value], at: usize| text(&parcels[at], "standing").to_owned();
    assert_eq!(standing(&run(&case, "parcels"), 1), "right", "nobody's ground lies between");

    let strip = |owner: &str| lot("003", owner, (200.0, 201.5));
    case.layer("parcels.geojson", &[west(), behind(), strip("Township of Oxpindle")]);
    let parcels = run_again(&case);
    assert_eq!(standing(&parcels, 1), "acquire");
    assert!(list(&parcels[1], "reasons").contains(&json!("cut_off_from_feature")), "{}", parcels[1]);
    assert!(has_evidence(&parcels[1], "cut_off_by_parcel", &json!("003")));
    assert_ne!(parcels[1]["confidence"], "high", "a strip narrower than the lot lines are accurate");

    case.layer("parcels.geojson", &[west(), behind(), strip("B. Thistlewood")]);
    assert_eq!(standing(&run_again(&case), 1), "right", "the strip is the same owner's");
}

/// The same, into another folder's place.
fn run_again(case: &SmallCase) -> Vec<Value> {
    std::fs::remove_dir_all(case.path("out")).unwrap();
    run(case, "parcels")
}
