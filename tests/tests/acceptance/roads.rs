//! Roads as lands of their own: ids, names, authorities and hectares.
//!
//! The valley of the small case with a parcel north of a road and one south of it. The land falls to the creek, and the creek
//! runs south through the lower parcel, so that parcel receives the water of all ground between them: 1 cell is 0.01 ha.

use fallwright::commands::watershed;
use fallwright::{Error, Place};
use serde_json::{Value, json};

use crate::results::{BUDGET, into, list, number, properties, read_json, silent, table, text};
use crate::small_case::{SmallCase, polygon};

const FIELDS: &str = "source = \"roads.geojson\"\nid = \"road\"\nname = \"name\"\nauthority = \"owner\"";

/// A road's strip from one easting to another: id, name, authority.
#[expect(clippy::needless_pass_by_value, reason = "values are written where they are used")]
fn road(id: Value, name: Value, authority: Value, u: (f64, f64)) -> Value {
    polygon(json!({ "road": id, "name": name, "owner": authority }), u, (180.0, 220.0))
}

fn case(roads: &[Value], upper: &str, lower: &str) -> SmallCase {
    let case = SmallCase::sound();
    let lot = |roll: &str, v: (f64, f64)| polygon(json!({ "roll": roll, "owner": "D. Inkwell" }), (0.0, 400.0), v);
    case.layer("parcels.geojson", &[lot(upper, (220.0, 400.0)), lot(lower, (0.0, 180.0))]);
    case.layer("roads.geojson", roads);
    case.edit("source = \"roads.geojson\"", FIELDS);
    case.write("schedule.csv", format!("roll,ha\n{upper},7.2\n{lower},7.2\n"));
    case
}

/// What the lower parcel receives.
fn received(case: &SmallCase, lower: &str) -> Vec<Value> {
    if let Err(failure) = case.run() {
        panic!("{failure:?}");
    }
    let parcels = properties(&read_json(&case.path("out/parcels.geojson")));
    let parcel = parcels.iter().find(|parcel| text(parcel, "parcel_id") == lower).expect("the lower parcel");
    list(parcel, "receives_from").to_vec()
}

fn warnings(case: &SmallCase) -> String {
    read_json(&case.path("out/run.json"))["warnings"].to_string()
}

/// West half 20 by 4 cells, east half as many. The west one has the id of a parcel, the east one has none.
#[test]
fn each_road_gives_its_own_hectares() {
    let mill = road(json!("002"), json!("Mill Road"), json!("County of Thrumbleby"), (0.0, 200.0));
    let unnamed = road(json!(""), json!(null), json!(null), (200.0, 400.0));
    let case = case(&[mill, unnamed], "001", "002");
    let expected = json!([
        { "kind": "road", "id": "#2", "hectares": 0.8 },
        { "kind": "road", "id": "002", "name": "Mill Road", "authority": "County of Thrumbleby", "hectares": 0.8 },
        { "kind": "parcel", "id": "001", "hectares": 7.2 },
    ]);
    assert_eq!(json!(received(&case, "002")), expected);
    let warnings = warnings(&case);
    assert!(warnings.contains(r#"no value in the field \"road\" of the features 2"#), "{warnings}");
}

#[test]
fn a_layer_without_ids_has_a_land_for_each_feature() {
    let strip = |u| polygon(json!({}), u, (180.0, 220.0));
    let case = case(&[], "001", "002");
    case.edit(FIELDS, "source = \"roads.geojson\"");
    case.layer("roads.geojson", &[strip((0.0, 100.0)), strip((100.0, 400.0))]);
    let roads: Vec<_> = received(&case, "002").into_iter().filter(|land| land["kind"] == "road").collect();
    let expected = json!([
        { "kind": "road", "id": "#1", "hectares": 0.4 },
        { "kind": "road", "id": "#2", "hectares": 1.2 },
    ]);
    assert_eq!(json!(roads), expected);
    assert!(!warnings(&case).contains("no value in the field"));
}

/// From 200 to 240 m east lies on both: 4 by 4 cells.
#[test]
fn of_two_roads_that_overlap_the_first_in_the_order_of_ids_has_the_ground() {
    let check = |west: &str, east: &str, expected: [f64; 2]| {
        let [west, east] = [(west, (0.0, 240.0)), (east, (200.0, 400.0))]
            .map(|(id, u)| (id, road(json!(id), json!(null), json!(null), u)));
        let received = received(&case(&[west.1, east.1], "001", "002"), "002");
        let of = |id: &str| {
            received.iter().find(|land| land["kind"] == "road" && land["id"] == id).map(|land| number(land, "hectares"))
        };
        assert_eq!([of(west.0), of(east.0)], expected.map(Some), "{received:?}");
    };
    check("A", "B", [0.96, 0.64]);
    check("B", "A", [0.8, 0.8]);
}

/// The same overlap, of two features of one road: 40 by 4 cells.
#[test]
fn features_of_one_id_are_one_road() {
    let piece = |name: Value, u| road(json!("M"), name, json!("County of Thrumbleby"), u);
    let pieces = [piece(json!("Mill Road"), (0.0, 240.0)), piece(json!(null), (200.0, 400.0))];
    let expected = json!(
        { "kind": "road", "id": "M", "name": "Mill Road", "authority": "County of Thrumbleby", "hectares": 1.6 }
    );
    assert_eq!(received(&case(&pieces, "001", "002"), "002")[0], expected);
}

#[test]
fn a_spoilt_road_layer_is_refused_with_its_place() {
    let check = |roads: &[Value], expected: &[&str]| {
        let case = case(roads, "001", "002");
        let Err(Error::Refused(problems)) = case.run() else { panic!("not refused: {expected:?}") };
        assert_eq!(problems.len(), 1, "{problems:#?}");
        let words = problems[0].to_string();
        assert!(expected.iter().all(|word| words.contains(word)), "no {expected:?} in {words}");
    };
    let named = |name: &str, u| road(json!("M"), json!(name), json!("County of Thrumbleby"), u);
    check(
        &[named("Mill Road", (0.0, 200.0)), named("Mill Lane", (200.0, 400.0))],
        &["roads.geojson", "M", "\"Mill Road\" on feature 1", "\"Mill Lane\" on feature 2", "different ids"],
    );
    let kept_by = |authority: &str, u| road(json!("M"), json!("Mill Road"), json!(authority), u);
    check(
        &[kept_by("County of Thrumbleby", (0.0, 200.0)), kept_by("Township of Oxpindle", (200.0, 400.0))],
        &["roads.geojson", "M", "one authority for each road"],
    );
    let mut nowhere = named("Mill Road", (0.0, 200.0));
    nowhere["geometry"] = json!(null);
    check(&[named("Mill Road", (0.0, 400.0)), nowhere], &["roads.geojson", "M (number 2)", "no geometry", "a polygon"]);
    check(
        &[polygon(json!({ "road": "M", "name": "Mill Road" }), (0.0, 400.0), (180.0, 220.0))],
        &["roads.geojson", "no field \"owner\"", "road, name"],
    );
}

/// Everything drains to the creek, which the case takes for the drain of its schedule.
fn lands_of_creek(case: &SmallCase) -> Vec<[String; 5]> {
    let out = case.path("watershed");
    watershed(&case.path("case.toml"), (&Place::Outlet("WC".to_owned()), 0.0), &into(&out), &BUDGET, &silent).unwrap();
    let row = |row: std::collections::BTreeMap<String, String>| {
        ["kind", "id", "drains_ha", "assessed_ha", "compared"].map(|column| row[column].clone())
    };
    table(&out.join("watershed_lands.csv")).into_iter().map(row).collect()
}

#[test]
fn a_schedule_s_row_for_a_road_is_the_road_s() {
    let roads = [
        road(json!("M"), json!("Mill Road"), json!(null), (0.0, 200.0)),
        road(json!("N"), json!(null), json!(null), (200.0, 400.0)),
    ];
    let case = case(&roads, "001", "002");
    case.write("schedule.csv", "roll,ha\n001,7.2\n002,7.0\nM,0.5\nX,1.0\n");
    received(&case, "002");
    assert!(warnings(&case).contains("lacks: X\""), "{}", warnings(&case));
    let expected = [
        ["road", "M", "0.8", "0.5", "in_both"],
        ["road", "N", "0.8", "", "not_compared"],
        ["parcel", "001", "7.2", "7.2", "in_both"],
        ["parcel", "002", "7.2", "7", "in_both"],
        ["", "X", "0", "1", "not_in_parcel_layer"],
    ];
    assert_eq!(lands_of_creek(&case), expected);
}

/// What is assessed for benefit alone is no outlet: it counts in no sum of assessed hectares.
#[test]
fn a_row_for_benefit_alone_is_no_assessment_for_outlet() {
    let case = case(&[road(json!("M"), json!("Mill Road"), json!(null), (0.0, 400.0))], "001", "002");
    case.edit("hectares = \"ha\"", "hectares = \"ha\"\noutlet = \"out\"\nbenefit = \"ben\"");
    case.write("schedule.csv", "roll,ha,out,ben\n001,7.2,10,0\n002,7.0,0,50\n");
    let expected = [
        ["road", "M", "1.6", "", "not_compared"],
        ["parcel", "001", "7.2", "7.2", "in_both"],
        ["parcel", "002", "7.2", "", "benefit_only"],
    ];
    assert_eq!(lands_of_creek(&case), expected);
}

#[test]
fn a_schedule_s_row_with_the_id_of_a_parcel_and_a_road_is_the_parcel_s() {
    let case = case(&[road(json!("002"), json!("Mill Road"), json!(null), (0.0, 400.0))], "001", "002");
    let expected = [
        ["road", "002", "1.6", "", "not_compared"],
        ["parcel", "001", "7.2", "7.2", "in_both"],
        ["parcel", "002", "7.2", "7.2", "in_both"],
    ];
    assert_eq!(lands_of_creek(&case), expected);
}

/// No id is taken for a kind of land: the road is in the east half only, the west half of the strip is nobody's.
#[test]
fn parcels_may_be_called_road_and_unowned() {
    let case = case(&[road(json!("parcel"), json!(null), json!(null), (200.0, 400.0))], "road", "unowned");
    let expected = json!([
        { "kind": "unowned", "id": null, "hectares": 0.8 },
        { "kind": "road", "id": "parcel", "hectares": 0.8 },
        { "kind": "parcel", "id": "road", "hectares": 7.2 },
    ]);
    assert_eq!(json!(received(&case, "unowned")), expected);
}
