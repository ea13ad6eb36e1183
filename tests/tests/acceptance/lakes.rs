//! Lakes, ponds and wide rivers that are mapped as polygons.
//!
//! 400 m by 400 m of invented ground in cells of 10 m: the valley of the small case, which falls south, or a bowl. A lake of 100
//! m by 100 m lies in the middle; lengths of shore, hectares and levels are worked out by hand from that.

use fallwright::commands::{Pdf, capacity, sheets, watershed};
use fallwright::{Error, Paper, Place, SheetParcels, SheetsOptions};
use serde_json::{Value, json};

use crate::results::{BUDGET, into, list, number, properties, read_json, silent, table, text, texts};
use crate::small_case::{SmallCase, case_file, height, line, polygon, ring};

const LAYERS: &str = r#"[[waterways]]
source = "water.geojson"
id = "id"
class_field = "kind"

[roads]
source = "roads.geojson"
"#;

/// A road far from the water.
const NO_ROAD: ((f64, f64), (f64, f64)) = ((0.0, 10.0), (0.0, 10.0));

fn lot(roll: &str, u: (f64, f64), v: (f64, f64)) -> Value {
    polygon(json!({ "roll": roll, "owner": "D. Inkwell" }), u, v)
}

fn water(id: &str, kind: &str, u: (f64, f64), v: (f64, f64)) -> Value {
    polygon(json!({ "id": id, "kind": kind }), u, v)
}

fn lake() -> Value {
    water("L", "lake", (150.0, 250.0), (150.0, 250.0))
}

fn creek(id: &str, ends: [[f64; 2]; 2]) -> Value {
    line(json!({ "id": id, "kind": "natural_watercourse" }), ends)
}

fn case(water: &[Value], parcels: &[Value], road: ((f64, f64), (f64, f64))) -> SmallCase {
    let case = SmallCase::sound();
    case.write("case.toml", case_file("an invented lake", LAYERS));
    case.layer("water.geojson", water);
    case.layer("parcels.geojson", parcels);
    case.layer("roads.geojson", &[polygon(json!({}), road.0, road.1)]);
    case
}

/// West of the lake, along 40 m of its west shore. In the valley its water runs south-east, into the lake.
fn on_shore() -> Value {
    lot("001", (100.0, 150.0), (210.0, 250.0))
}

/// The lake of the valley with a creek from the north and one to the south.
fn in_valley() -> SmallCase {
    let upper = creek("IN", [[200.0, 395.0], [200.0, 245.0]]);
    let lower = creek("OUT", [[200.0, 155.0], [200.0, 5.0]]);
    case(&[lake(), upper, lower], &[on_shore()], NO_ROAD)
}

/// Rises by 2 % from the middle, where the lake lies, to all edges.
fn bowl(col: usize, row: usize) -> f32 {
    let from_middle = |at: usize| ((at as f32 + 0.5) * 10.0 - 200.0).abs();
    100.0 + 0.02 * from_middle(col).max(from_middle(row))
}

struct Run {
    parcels: Vec<Value>,
    paths: Vec<Value>,
    reaches: Vec<Value>,
    warnings: String,
}

fn run(case: &SmallCase) -> Run {
    if let Err(failure) = case.run() {
        panic!("{failure:?}");
    }
    let read = |name: &str| properties(&read_json(&case.path("out").join(name)));
    Run {
        parcels: read("parcels.geojson"),
        paths: read("paths.geojson"),
        reaches: read("reaches.geojson"),
        warnings: read_json(&case.path("out/run.json"))["warnings"].to_string(),
    }
}

impl Run {
    fn parcel(&self, roll: &str) -> &Value {
        self.parcels.iter().find(|parcel| text(parcel, "parcel_id") == roll).expect("a parcel of that roll")
    }

    /// Each reach with the one that its water enters next.
    fn cascade(&self) -> Vec<(&str, Option<&str>)> {
        self.reaches.iter().map(|reach| (text(reach, "reach_id"), reach["to_reach"].as_str())).collect()
    }

    fn ends(&self) -> Vec<&str> {
        self.paths.iter().map(|path| text(path, "ends")).collect()
    }
}

fn evidence<'a>(parcel: &'a Value, measure: &str) -> Option<&'a Value> {
    list(parcel, "evidence").iter().find(|item| text(item, "measure").contains(measure))
}

fn watershed_ha(case: &SmallCase, outlet: &str) -> f64 {
    let out = case.path("watershed");
    let place = Place::Outlet(outlet.to_owned());
    watershed(&case.path("case.toml"), (&place, 0.0), &into(&out), &BUDGET, &silent).unwrap();
    table(&out.join("watershed_lands.csv")).iter().map(|row| row["drains_ha"].parse::<f64>().unwrap()).sum()
}

#[test]
fn an_open_lake_is_an_outlet_that_its_creek_leads_on() {
    let found = run(&in_valley());
    let parcel = found.parcel("001");
    assert_eq!((text(parcel, "standing"), text(parcel, "basis"), text(parcel, "outlet_id")), ("right", "lake", "L"));
    assert!(!texts(parcel, "reasons").contains(&"ends_in_closed_lake"), "{parcel}");
    assert_eq!(found.ends(), vec!["edge"; found.paths.len()]);
    assert_eq!(found.cascade(), [("IN/1", Some("L/1")), ("L/1", Some("OUT/1")), ("OUT/1", None)]);
    // 40 m of west shore, and 2 m of it and of the north one within 2 m of the parcel.
    let frontage = number(evidence(parcel, "frontage").expect("a length of frontage"), "value");
    assert!((frontage - 44.0).abs() <= 2.0, "{frontage}");
}

/// The shore of the bowl is lowest in its row next to the lake, 60 m less half a cell from the middle: 100 + 0.02 x 55 m. At the
/// edges the ground lies 195 m from the middle: 2.80 m higher.
#[test]
fn a_closed_lake_is_said_to_be_one_and_confers_by_its_shore() {
    let case = case(&[lake()], &[on_shore(), lot("002", (20.0, 150.0), (260.0, 390.0))], NO_ROAD);
    case.ground(bowl);
    let found = run(&case);
    let [on_shore, behind] = ["001", "002"].map(|roll| found.parcel(roll));
    assert_eq!((text(on_shore, "standing"), text(on_shore, "basis")), ("right", "lake"));
    assert_eq!((text(behind, "standing"), text(behind, "outlet_id")), ("acquire", "L"));
    assert!([on_shore, behind].iter().all(|parcel| texts(parcel, "reasons").contains(&"ends_in_closed_lake")));
    assert_eq!(found.ends(), vec!["closed_lake"; found.paths.len()]);
    assert_eq!(found.cascade(), [("L/1", None)]);
    for words in ["101.10 m, the lowest ground on its shore", "rise 2.80 m to spill", "taken to be closed"] {
        assert!(found.warnings.contains(words), "no {words:?} in {}", found.warnings);
    }
    // All ground drains to it: 16 ha.
    assert!((watershed_ha(&case, "L") - 16.0).abs() < 1e-9);
    // Where a notch in the rim lies lower than the lake, water leaves by it, mapped or not.
    case.ground(|col, row| if col == 20 && row > 24 { 101.0 - 0.01 * (row as f32 - 24.0) } else { bowl(col, row) });
    std::fs::remove_dir_all(case.path("out")).unwrap();
    let found = run(&case);
    assert_eq!(found.ends(), vec!["edge"; found.paths.len()]);
    assert_eq!(found.cascade(), [("L/1", None)]);
    case.layer("water.geojson", &[lake(), creek("OUT", [[205.0, 155.0], [205.0, 5.0]])]);
    std::fs::remove_dir_all(case.path("out")).unwrap();
    let found = run(&case);
    assert_eq!(found.ends(), vec!["edge"; found.paths.len()]);
    assert_eq!(found.cascade(), [("L/1", Some("OUT/1")), ("OUT/1", None)]);
}

/// The bowl without a mapped water. Water would leave it at the edges, 195 m from the middle, 103.90 m; but for the cells there
/// all of it lies lower, 38 x 38 cells, 5 m from the middle 3.80 m. The parcel lies from 60 to 140 m east of the middle.
fn hollow(terrain: &str) -> Value {
    let case = case(&[lake()], &[lot("001", (260.0, 340.0), (160.0, 240.0))], NO_ROAD);
    case.write("case.toml", case_file("an invented hollow", ""));
    case.edit("[terrain]\n", &format!("[terrain]\n{terrain}\n"));
    case.ground(bowl);
    run(&case).parcel("001").clone()
}

#[test]
fn a_hollow_is_never_filled_in_silence() {
    let parcel = hollow("");
    assert_eq!(text(&parcel, "standing"), "undecided");
    let reasons = texts(&parcel, "reasons");
    for reason in ["path_leaves_data", "path_crosses_filled_ground", "path_ends_higher"] {
        assert!(reasons.contains(&reason), "no {reason} in {reasons:?}");
    }
    let measured = |measure: &str| number(evidence(&parcel, measure).expect("evidence"), "value");
    assert!((measured("filled_area") - 14.44).abs() < 1e-9, "{parcel}");
    assert!((measured("filled_depth") - 3.80).abs() < 0.01, "{parcel}");
    let words = list(&parcel, "reason_texts").iter().map(ToString::to_string).collect::<String>();
    let next = text(&parcel, "next_step");
    assert!(next.contains("keep_depressions") && !next.contains("farther downstream"), "{next}");
    for expected in ["14.44 ha", "3.80 m deep", "keep_depressions", "ends higher than it began"] {
        assert!(words.contains(expected), "no {expected:?} in {words}");
    }
}

/// One line takes the lakes of a layer of polygons for what they are.
#[test]
fn a_layer_of_lakes_is_kept_by_one_line() {
    for line in
        ["keep_depressions = \"water.geojson\"", "keep_depressions = { source = \"water.geojson\", layer = \"water\" }"]
    {
        let parcel = hollow(line);
        assert_eq!(
            (text(&parcel, "standing"), texts(&parcel, "reasons")),
            ("acquire", vec!["ends_in_kept_depression"])
        );
    }
}

/// A road along the rim holds the water back; the lake is not closed for that.
#[test]
fn a_lake_behind_a_road_is_not_closed() {
    let road = ((0.0, 400.0), (100.0, 120.0));
    let case = case(&[lake()], &[on_shore()], road);
    case.ground(|col, row| height(col, row) + if (28..30).contains(&row) { 4.0 } else { 0.0 });
    let found = run(&case);
    assert!(!texts(found.parcel("001"), "reasons").contains(&"ends_in_closed_lake"));
    assert_eq!(found.ends(), vec!["edge"; found.paths.len()]);
}

#[test]
fn a_lake_at_the_edge_of_the_data_leads_out_of_them() {
    let case = case(
        &[water("L", "lake", (150.0, 250.0), (-50.0, 100.0))],
        &[lot("001", (20.0, 150.0), (0.0, 100.0))],
        NO_ROAD,
    );
    let found = run(&case);
    assert_eq!(text(found.parcel("001"), "standing"), "right");
    assert_eq!(found.ends(), vec!["edge"; found.paths.len()]);
    assert_eq!(found.cascade(), [("L/1", None)]);
}

/// Lidar has no return from water: what the elevation holds in a lake changes nothing.
#[test]
fn holes_in_a_lake_change_nothing() {
    let case = in_valley();
    let with_data = run(&case);
    for rows in [15..25, 17..23] {
        case.ground(
            |col, row| if (15..25).contains(&col) && rows.contains(&row) { f32::NAN } else { height(col, row) },
        );
        std::fs::remove_dir_all(case.path("out")).unwrap();
        let found = run(&case);
        assert_eq!(
            (found.parcels, found.paths, found.reaches),
            (with_data.parcels.clone(), with_data.paths.clone(), with_data.reaches.clone())
        );
        assert!(found.warnings.contains(&format!("100 cells in it, {} of them without elevation", rows.len() * 10)));
    }
}

/// One road 2 m wide on the shore, which a parcel behind it does not touch, and land of a neighbour as narrow.
#[test]
fn land_between_the_parcel_and_the_shore_cuts_it_off() {
    let behind = || lot("001", (100.0, 148.0), (210.0, 250.0));
    let water = [lake(), creek("OUT", [[200.0, 155.0], [200.0, 5.0]])];
    let by_road = case(&water, &[behind()], ((148.0, 150.0), (150.0, 250.0)));
    let strip = polygon(json!({ "roll": "900", "owner": "P. Quill" }), (148.0, 150.0), (150.0, 250.0));
    let by_neighbour = case(&water, &[behind(), strip], NO_ROAD);
    for case in [by_road, by_neighbour] {
        let found = run(&case);
        let parcel = found.parcel("001");
        assert_eq!((text(parcel, "standing"), text(parcel, "outlet_id")), ("acquire", "L"));
        assert!(texts(parcel, "reasons").contains(&"cut_off_from_feature"), "{parcel}");
    }
}

/// The river runs through the whole extent from north to south. All 16 ha drain to it.
#[test]
fn a_creek_joins_a_wide_river() {
    let river = water("R", "natural_watercourse", (180.0, 220.0), (-20.0, 420.0));
    let case = case(
        &[river, creek("IN", [[50.0, 200.0], [185.0, 200.0]])],
        &[lot("001", (80.0, 180.0), (210.0, 300.0))],
        NO_ROAD,
    );
    case.ground(|col, row| if (18..22).contains(&col) && row > 5 { f32::NAN } else { height(col, row) });
    let found = run(&case);
    assert_eq!((text(found.parcel("001"), "standing"), text(found.parcel("001"), "outlet_id")), ("right", "R"));
    assert_eq!(found.cascade(), [("IN/1", Some("R/1")), ("R/1", None)]);
    let (creek, river) = (&found.reaches[0], &found.reaches[1]);
    assert!((number(river, "surface_ha") - 16.0).abs() < 1e-9, "{river}");
    assert!(number(creek, "surface_ha") < 4.0, "{creek}");
    assert!((watershed_ha(&case, "R") - 16.0).abs() < 1e-9);
}

#[test]
fn a_polygon_that_cannot_be_a_lake_is_refused() {
    let check = |features: &[Value], expected: &[&str]| {
        let case = case(features, &[on_shore()], NO_ROAD);
        let Err(Error::Refused(problems)) = case.run() else { panic!("not refused: {expected:?}") };
        assert_eq!(problems.len(), 1, "{problems:#?}");
        let words = problems[0].to_string();
        assert!(expected.iter().all(|word| words.contains(word)), "no {expected:?} in {words}");
    };
    let corners = [[150.0, 150.0], [250.0, 250.0], [250.0, 150.0], [150.0, 250.0], [150.0, 150.0]];
    let crossed = ring(json!({ "id": "L", "kind": "lake" }), &corners);
    check(&[lake_of("M"), crossed], &["water.geojson", "L (number 2)", "exterior ring", "a valid polygon"]);
    for kind in ["municipal_drain", "road_ditch", "private_tile"] {
        let drain = water("D", kind, (150.0, 250.0), (150.0, 250.0));
        check(&[drain], &["water.geojson", "D (number 1)", kind, "a line", "centre line"]);
    }
    let both = creek("L", [[200.0, 155.0], [200.0, 5.0]]);
    check(
        &[water("L", "natural_watercourse", (150.0, 250.0), (150.0, 250.0)), both],
        &["L (number 2)", "a line and a polygon"],
    );
}

fn lake_of(id: &str) -> Value {
    water(id, "lake", (300.0, 350.0), (300.0, 350.0))
}

#[test]
fn no_cross_section_is_asked_of_a_lake() {
    let case = in_valley();
    let out = case.path("capacity");
    capacity(&case.path("case.toml"), &into(&out), &[], &BUDGET, &silent).unwrap();
    let links = properties(&read_json(&out.join("capacity.geojson")));
    let of = |id: &str| links.iter().find(|link| text(link, "link_id") == id).expect("the link");
    let (lake, creek) = (of("L/1"), of("OUT/1"));
    assert_eq!(text(lake, "sufficiency"), "not_checked");
    assert!(list(lake, "to_measure").is_empty(), "{lake}");
    assert!(!list(creek, "to_measure").is_empty(), "{creek}");
}

/// The page draws the line of a lake; a lake has no profile, its creek has one.
#[test]
fn the_page_and_the_sheets_hold_a_lake() {
    let case = in_valley();
    let out = case.path("sheets");
    let options = SheetsOptions {
        run_date: "2026-11-25".to_owned(),
        parcels: SheetParcels::None,
        paper: Paper::default(),
        fonts: Vec::new(),
    };
    let options = (&options, Pdf::LeftOut);
    sheets(&case.path("case.toml"), &into(&out), options, &BUDGET, &silent).unwrap();
    let names: Vec<String> = crate::results::bytes(&out).into_keys().collect();
    let profiles: Vec<&str> = names.iter().filter_map(|name| name.strip_suffix(".csv")).collect();
    assert_eq!(profiles, ["profile_IN", "profile_OUT"]);
}
