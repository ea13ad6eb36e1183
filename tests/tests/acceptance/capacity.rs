//! Whether the outlet is big enough: the small case by hand, and the demonstration against its plan.

use fallwright::commands::{capacity, outlets};
use fallwright::{AddedLand, Error};
use fallwright_units::{Hectares, MillimetresPerDay};
use serde_json::{Value, json};

use crate::oxpindle::{cells, oxpindle};
use crate::results::{BUDGET, into, list, number, over, properties, read_json, silent, text, texts, usage};
use crate::small_case::{SmallCase, line};

const SECTIONS: &str = "drain,x,y,kind,bottom_m,side_slope,depth_m,points,bed_m,n,grade_percent,date,datum\n";

/// The small case with more tables, and files for them.
pub(crate) fn with_tables(tables: &str, files: &[(&str, String)]) -> SmallCase {
    let case = SmallCase::sound();
    case.edit("[roads]", &format!("{tables}\n[roads]"));
    for (name, content) in files {
        case.write(name, content);
    }
    case
}

/// A row of the sections file at a place of the plan, on the creek.
pub(crate) fn section(v: f64, rest: &str) -> String {
    format!("WC,400200,{},{rest},2024-05-17,invented datum\n", 4_850_000.0 + v)
}

pub(crate) fn with_sections(rows: &[String]) -> SmallCase {
    let files = [("sections.csv", format!("{SECTIONS}{}", rows.concat()))];
    with_tables("[[sections]]\nsource = \"sections.csv\"\n", &files)
}

/// The main of the small case with other attributes; it falls 0.6 m on 152.3 m by the levels given to it.
pub(crate) fn main_with(attributes: &Value) -> Value {
    let mut all = json!({ "id": "T", "class": "private_tile" });
    for (key, value) in attributes.as_object().unwrap() {
        all[key] = value.clone();
    }
    line(all, [[55.0, 105.0], [195.0, 45.0]])
}

pub(crate) fn run(case: &SmallCase, added: &[AddedLand]) -> Result<Vec<Value>, Error> {
    let out = case.path("capacity");
    capacity(&case.path("case.toml"), &over(&out), added, &BUDGET, &silent)?;
    Ok(properties(&read_json(&out.join("capacity.geojson"))))
}

fn links(case: &SmallCase) -> Vec<Value> {
    run(case, &[]).unwrap_or_else(|failure| match failure {
        Error::Refused(problems) => panic!("{problems:#?}"),
        other => panic!("{other}"),
    })
}

fn link<'a>(links: &'a [Value], id: &str) -> &'a Value {
    links.iter().find(|link| link["link_id"] == id).unwrap_or_else(|| panic!("no link {id} in {links:#?}"))
}

fn has(link: &Value, key: &str, words: &str) -> bool {
    texts(link, key).iter().any(|text| text.contains(words))
}

fn tile(parcel: &str, millimetres: f64) -> AddedLand {
    let drainage_coefficient = MillimetresPerDay::from_millimetres_per_day(millimetres).unwrap();
    AddedLand { parcel: parcel.to_owned(), drainage_coefficient }
}

#[test]
fn nothing_stands_in_for_what_must_be_measured() {
    let links = links(&SmallCase::sound());
    for found in &links {
        assert_eq!(text(found, "sufficiency"), "not_checked", "{found}");
        assert!(!list(found, "to_measure").is_empty(), "{found}");
        assert_eq!(found["capacity_m3_per_s"], Value::Null, "{found}");
    }
    let main = link(&links, "T");
    for words in [
        "the diameter of T",
        "the material of T",
        "both inverts of T",
        "the invert of the outlet of T",
        "the low water",
    ] {
        assert!(has(main, "to_measure", words), "no {words:?} in {main}");
    }
    assert!(has(link(&links, "WC/1"), "to_measure", "the present cross-section of WC/1"));
}

/// Full pipe of 150 mm, n 0.015, at 0.5 %: 9.33 L/s (Manning; see the table of full flows in the hydraulics crate). Its
/// tiled land is 50 to 150 m by 100 to 160 m: 0.6 ha, at 12 mm/d 0.6 × 12/8.64 = 0.8333 L/s.
#[test]
fn a_main_by_hand() {
    let case = SmallCase::sound();
    let attributes = json!({ "diameter_mm": 150, "material": "corrugated plastic", "grade_percent": 0.5 });
    case.layer("mains.geojson", &[main_with(&attributes)]);
    let before = links(&case);
    let main = link(&before, "T");
    assert!((number(main, "flow_m3_per_s") * 1000.0 - 0.6 * 12.0 / 8.64).abs() < 1e-3, "{main}");
    assert!((number(main, "capacity_m3_per_s") * 1000.0 - 9.33).abs() < 0.005, "{main}");
    assert_eq!((text(main, "regime"), text(main, "grade_source")), ("tile", "layer_grade"));
    assert!(has(main, "assumed", "drainage_coefficient_mm_per_day") && has(main, "assumed", "n of corrugated plastic"));

    // All the parcel's 6.48 ha at 25 mm/d: 0.6 ha as before and 5.88 ha × 25/8.64 = 17.01 L/s more. The next size that
    // carries 17.85 L/s at 0.5 % is 200 mm (20.10 L/s).
    let after = run(&case, &[tile("001", 25.0)]).unwrap_or_else(|failure| panic!("{failure}"));
    let main = link(&after, "T");
    assert!((number(main, "added_ha") - 5.88).abs() < 1e-9, "{main}");
    assert!((number(main, "flow_m3_per_s") * 1000.0 - (0.8333 + 17.0139)).abs() < 1e-3, "{main}");
    assert_eq!((text(main, "cause"), text(main, "remedy")), ("undersized", "improvement"));
    assert_eq!(number(main, "next_diameter_mm"), 200.0);
    let parcels = properties(&read_json(&case.path("capacity/parcels.geojson")));
    assert_eq!((text(&parcels[0], "sufficiency"), text(&parcels[0], "limiting_reach")), ("insufficient", "T"));
    assert_eq!(text(&parcels[1], "sufficiency"), "not_checked");
}

/// The outlet's invert lies at 99.9 m; the low water beside it below, just under and above.
#[test]
fn an_outlet_over_and_under_the_low_water() {
    let check = |water_m: f64, expected: &str, cause: Option<&str>| {
        let rows = format!(
            "feature,x,y,kind,level_m,date,datum\nT,400195,4850045,water,{water_m},2024-08-02,invented datum\n"
        );
        let case = with_tables("[[levels]]\nsource = \"levels.csv\"\n", &[("levels.csv", rows)]);
        let attributes = json!({
            "diameter_mm": 150, "material": "corrugated plastic", "invert_up_m": 100.6, "invert_down_m": 99.9,
        });
        case.layer("mains.geojson", &[main_with(&attributes)]);
        let links = links(&case);
        let main = link(&links, "T");
        assert_eq!(text(main, "outlet"), expected, "{main}");
        assert_eq!(main["cause"].as_str(), cause, "{main}");
        assert_eq!(text(main, "grade_source"), "layer_inverts");
    };
    check(99.7, "free", None);
    check(99.8, "free", None);
    check(99.81, "low", Some("outlet_low"));
    check(99.9, "submerged", Some("submerged"));
    check(100.2, "submerged", Some("submerged"));
}

#[test]
fn a_pumped_outlet_is_told_and_not_judged() {
    let case = SmallCase::sound();
    let attributes =
        json!({ "diameter_mm": 150, "material": "corrugated plastic", "grade_percent": 0.5, "pumped": "yes" });
    case.layer("mains.geojson", &[main_with(&attributes)]);
    let links = links(&case);
    let main = link(&links, "T");
    assert_eq!((text(main, "outlet"), text(main, "sufficiency")), ("pumped", "not_checked"));
    assert!(has(main, "to_measure", "pump"));
}

/// Drawn from its outlet up, with inverts that say so: the water runs the other way, and the outlet is where it was drawn
/// to begin.
#[test]
fn a_pipe_with_its_ends_swapped() {
    let case = SmallCase::sound();
    let swapped = json!({
        "id": "T", "class": "private_tile", "diameter_mm": 150, "material": "corrugated plastic",
        "invert_up_m": 99.9, "invert_down_m": 100.6,
    });
    case.layer("mains.geojson", &[line(swapped, [[195.0, 45.0], [55.0, 105.0]])]);
    let links = links(&case);
    let main = link(&links, "T");
    assert_eq!(text(main, "next_link"), "WC/1");
    assert!((number(main, "grade_percent") - 100.0 * 0.7 / 140.0_f64.hypot(60.0)).abs() < 1e-3, "{main}");
    let run = read_json(&case.path("capacity/run.json"));
    let drawn_uphill =
        |note: &Value| text(note, "about") == "structure T" && text(note, "found").contains("drawn uphill");
    assert!(list(&run, "warnings").iter().any(drawn_uphill));
}

/// The removal curve by hand: 37 × (hectares by 258.9988)^(5/6) cfs.
fn removal_m3_per_s(hectares: f64) -> f64 {
    37.0 * Hectares::from_hectares(hectares).unwrap().square_miles().powf(5.0 / 6.0) * 0.028_316_846_592
}

/// WC/3 is a head; C takes its water on. In WC/2 C with 3.06 ha meets WC/4 with 2.33 ha, 43 % of both: by the 20–40 rule
/// their flows are added. The land beside WC/2 comes on top of the area that the curve gives that sum.
#[test]
fn the_removal_curve_by_hand() {
    let links = links(&SmallCase::sound());
    let of = |id: &str, key: &str| number(link(&links, id), key);
    let check = |id: &str, expected: f64| {
        assert!((of(id, "flow_m3_per_s") / expected - 1.0).abs() < 1e-4, "{id}: {expected}");
    };
    check("WC/3", removal_m3_per_s(of("WC/3", "surface_ha")));
    check("C", removal_m3_per_s(of("C", "surface_ha")));
    assert_eq!((of("C", "surface_ha"), of("WC/4", "surface_ha")), (3.06, 2.33));
    let added = removal_m3_per_s(3.06) + removal_m3_per_s(2.33);
    let area_of_added = (added / removal_m3_per_s(1.0)).powf(6.0 / 5.0);
    check("WC/2", removal_m3_per_s(area_of_added + of("WC/2", "surface_ha") - 3.06 - 2.33));
}

/// By-law and present sections of one place. Uniform flow at 1 % in a bottom of 0.5 m with sides 1.5:1, n 0.035, 0.9 m deep
/// less 0.3 m of freeboard: A = 0.84, P = 2.6633, Q = 0.84 × (0.84/2.6633)^(2/3) × 0.1/0.035 = 1.112 m³/s.
#[test]
fn design_and_present_bed_are_distinguished() {
    let check = |present: &str, expected: [&str; 3]| {
        let rows = [section(300.0, "design,0.5,1.5,0.9,,102.0,0.035,1.0"), section(300.0, present)];
        let links = links(&with_sections(&rows));
        let reach = link(&links, "WC/2");
        assert!((number(reach, "design_capacity_m3_per_s") - 1.112).abs() < 0.001, "{reach}");
        let found = ["sufficiency", "cause", "remedy"].map(|key| reach[key].as_str().unwrap_or("-"));
        assert_eq!(found, expected, "{reach}");
    };
    check("present,0.5,1.5,0.9,,102.0,0.035,", ["sufficient", "-", "-"]);
    check("present,1.0,1.5,0.35,,102.55,0.1,", ["insufficient", "silted", "maintenance"]);
}

#[test]
fn a_design_too_small_asks_for_an_improvement_and_an_adequate_width() {
    let rows =
        [section(300.0, "design,0.1,0.5,0.35,,102.0,0.035,0.05"), section(300.0, "present,0.1,0.5,0.35,,102.0,0.035,")];
    let links = links(&with_sections(&rows));
    let reach = link(&links, "WC/2");
    assert_eq!((text(reach, "cause"), text(reach, "remedy")), ("undersized", "improvement"));
    // The adequate width carries the flow, and one step less does not.
    let carries = |bottom: f64| {
        let (area, perimeter) = ((bottom + 0.5 * 0.05) * 0.05, bottom + 0.1 * 1.25_f64.sqrt());
        area * (area / perimeter).powf(2.0 / 3.0) * 0.0005_f64.sqrt() / 0.035
    };
    let (flow, bottom) = (number(reach, "flow_m3_per_s"), number(reach, "next_bottom_m"));
    assert!(carries(bottom) >= flow && carries(bottom - 0.1) < flow, "{reach}");
}

#[test]
fn a_design_alone_leaves_the_present_bed_to_be_surveyed() {
    let links = links(&with_sections(&[section(300.0, "design,0.5,1.5,0.9,,102.0,0.035,1.0")]));
    let reach = link(&links, "WC/2");
    assert_eq!(text(reach, "sufficiency"), "not_checked");
    assert!(has(reach, "to_measure", "the present cross-section of WC/2"), "{reach}");
}

/// Rain of 20 mm/h however long it lasts: Q = 0.4 × 20 × A / 360.
#[test]
fn the_rational_method_by_hand() {
    let rain = "duration_min,return_period_years,depth_mm,intensity_mm_per_h,source\n\
                5,5,,20,invented\n1440,5,,20,invented\n1440,2,50.8,,invented\n";
    let tables = "[capacity]\nmethod = \"rational\"\nrunoff_coefficient = 0.4\nreturn_period_years = 5\n\
                  [rainfall]\nsource = \"rain.csv\"\n";
    let links = links(&with_tables(tables, &[("rain.csv", rain.to_owned())]));
    let reach = link(&links, "WC/1");
    let expected = 0.4 * 20.0 * number(reach, "surface_ha") / 360.0;
    assert!((number(reach, "flow_m3_per_s") - expected).abs() < 1e-6, "{reach}");
    assert_eq!(number(reach, "return_period_years"), 5.0);
}

#[test]
fn a_method_without_its_data_says_what_is_missing() {
    let check = |tables: &str, words: &str| {
        let links = links(&with_tables(tables, &[]));
        let reach = link(&links, "WC/1");
        assert_eq!((text(reach, "sufficiency"), &reach["flow_m3_per_s"]), ("not_checked", &Value::Null));
        assert!(has(reach, "to_measure", words), "{reach}");
    };
    check("[capacity]\nmethod = \"rational\"\n", "state runoff_coefficient");
    check("[capacity]\nmethod = \"rational\"\nrunoff_coefficient = 0.4\n", "state return_period_years");
    let rational = "[capacity]\nmethod = \"rational\"\nrunoff_coefficient = 0.4\nreturn_period_years = 5\n";
    check(rational, "add rain of 1440 minutes and 2 years");
    check("[capacity]\nmethod = \"curve_number\"\n", "state cover");
    check("[capacity]\nmethod = \"curve_number\"\ncover = \"meadow\"\n", "[soils]");
}

/// Soil B under row crops in straight rows, good: CN 78; 76.2 mm of rain: S = 71.64 mm, Ia = 14.33 mm,
/// Q = 61.87²/133.51 = 28.67 mm. The longest way of the valley takes about half an hour; the unit peak lies between those
/// of 0.3 h and 0.8 h of table F-1 for type II at Ia/P 0.188: 665 and 394 cfs by square mile and inch.
#[test]
fn the_curve_number_by_hand() {
    let rain = "duration_min,return_period_years,depth_mm,intensity_mm_per_h,source\n\
                1440,5,76.2,,invented\n1440,2,50.8,,invented\n";
    let tables = "[capacity]\nmethod = \"curve_number\"\ncover = \"row_crop_straight_good\"\nreturn_period_years = 5\n\
                  [rainfall]\nsource = \"rain.csv\"\n[soils]\nsource = \"soils.geojson\"\n";
    let case = with_tables(tables, &[("rain.csv", rain.to_owned())]);
    let soil = crate::small_case::polygon(json!({ "group": "B" }), (-10.0, 410.0), (-10.0, 410.0));
    case.layer("soils.geojson", &[soil]);
    let links = links(&case);
    let reach = link(&links, "WC/1");
    let by_unit = |unit: f64| unit * number(reach, "surface_ha") / 258.998_811 * 28.67 / 25.4 * 0.028_316_846_592;
    // Direct runoff alone: the tile design flow comes on top.
    let flow = number(reach, "flow_m3_per_s") - number(reach, "tile_flow_m3_per_s");
    assert!(by_unit(394.0) < flow && flow < by_unit(665.0), "{reach}");
}

#[test]
fn added_land_of_nobody_is_refused() {
    let refused = run(&SmallCase::sound(), &[tile("01", 12.0)]);
    let message = usage(refused);
    assert!(message.contains("\"01\"") && message.contains("001"), "{message}");
}

/// A table of defaults of the user's own: twice the drainage coefficient.
#[test]
fn the_defaults_can_be_replaced() {
    let shipped = include_str!("../../../crates/hydraulics/defaults.toml").replacen("value = 12.0", "value = 24.0", 1);
    let case = with_tables("[capacity]\ndefaults = \"own.toml\"\n", &[("own.toml", shipped)]);
    let links = links(&case);
    assert!((number(link(&links, "T"), "tile_flow_m3_per_s") * 1000.0 - 0.6 * 24.0 / 8.64).abs() < 1e-3);
    let used = read_json(&case.path("capacity/run.json"))["settings"]["capacity_defaults_used"].clone();
    assert!(text(&used, "drainage_coefficient_mm_per_day").starts_with("24"), "{used}");
}

/// The plan of the demonstration: see `crates/demo/src/lib.rs`.
#[test]
fn the_demonstration_shows_every_kind() {
    let town = oxpindle();
    let check = |parcels: [&str; 2], sufficiency: &str, limiting: Option<&str>| {
        for id in parcels {
            let parcel = town.parcel(id);
            assert_eq!(text(parcel, "sufficiency"), sufficiency, "{id}");
            if let Some(limiting) = limiting {
                assert_eq!(text(parcel, "limiting_reach"), limiting, "{id}");
            }
        }
    };
    check(["0527-030-003-00200", "0527-020-005-00410"], "sufficient", None);
    check(["0527-010-003-00100", "0527-010-004-00200"], "insufficient", Some("C-07"));
    check(["0527-010-007-00200", "0527-010-007-00300"], "insufficient", Some("D-11/4"));
    check(["0527-010-006-00200"; 2], "insufficient", Some("T-1"));
    check(["0527-030-008-00200", "0527-030-008-00300"], "not_checked", None);
}

/// `outlets` and `capacity` report the same of every parcel.
#[test]
fn both_commands_say_the_same() {
    let town = oxpindle();
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    capacity(&town.case, &into(&out), &[], &BUDGET, &silent).unwrap_or_else(|failure| panic!("{failure}"));
    assert_eq!(read_json(&out.join("parcels.geojson")), read_json(&town.out.join("parcels.geojson")));
    let links = properties(&read_json(&out.join("capacity.geojson")));
    let main = link(&links, "T-1");
    assert_eq!((text(main, "outlet"), text(main, "remedy")), ("submerged", "maintenance"));
    let silted = link(&links, "D-11/4");
    assert_eq!((text(silted, "cause"), text(silted, "remedy")), ("silted", "maintenance"));
    let culvert = link(&links, "C-07");
    assert_eq!((text(culvert, "cause"), text(culvert, "remedy")), ("undersized", "improvement"));
    // The main brings water from land whose surface water goes elsewhere: D-11 carries it beside its own.
    let tiled_ha = 35.0 * 23.0 / 100.0;
    assert!((number(main, "piped_ha") - tiled_ha).abs() < 0.1, "{main}");
    assert_eq!(cells(number(main, "piped_ha")), cells(number(silted, "piped_ha")));
    areas_add_at_junctions(&links);
    let rows = std::fs::read_to_string(out.join("capacity.csv")).unwrap();
    assert_eq!(rows.lines().count(), links.len() + 1);
    assert!(!rows.contains(",=") && !rows.contains(",@"));
}

#[test]
fn the_same_bytes_on_any_number_of_threads() {
    let case = SmallCase::sound();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let out = case.path(&format!("on {threads}"));
        pool.install(|| capacity(&case.path("case.toml"), &into(&out), &[tile("001", 12.0)], &BUDGET, &silent))
            .unwrap();
        crate::results::bytes(&out)
    };
    let first = on(1);
    assert_eq!(first.len(), 5);
    assert_eq!(first, on(4));
}

/// What arrives by the links above never exceeds what passes a link, and piped hectares add up exactly.
fn areas_add_at_junctions(links: &[Value]) {
    for below in links {
        let above = links.iter().filter(|link| link["next_link"] == below["link_id"]);
        let surface: f64 = above.clone().map(|link| number(link, "surface_ha")).sum();
        assert!(surface <= number(below, "surface_ha") + 1e-6, "{below}");
        let piped: f64 = above.map(|link| number(link, "piped_ha")).sum();
        if below["kind"] != "pipe" {
            assert!((piped - number(below, "piped_ha")).abs() < 1e-6, "{below}");
        }
    }
}

/// Without sizes and sections the main job checks nothing.
#[test]
fn outlets_alone_of_a_case_without_sizes() {
    let case = SmallCase::sound();
    case.layer("culverts.geojson", &[line(json!({ "id": "C" }), [[200.0, 235.0], [200.0, 165.0]])]);
    let out = case.path("plain");
    outlets(&case.path("case.toml"), &into(&out), fallwright::OutletsExtras::default(), &BUDGET, &silent)
        .unwrap_or_else(|failure| panic!("{failure}"));
    for parcel in properties(&read_json(&out.join("parcels.geojson"))) {
        assert_eq!((text(&parcel, "sufficiency"), &parcel["limiting_reach"]), ("not_checked", &Value::Null));
    }
}
