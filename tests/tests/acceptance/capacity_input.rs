//! Faulty input of the capacity check: what is refused, with the file, the feature, what was found, what was expected and
//! what to do.

use fallwright::Error;
use serde_json::{Value, json};

use crate::capacity::{main_with, run, section, with_sections, with_tables};
use crate::small_case::{SmallCase, line};

/// The case is refused for one fault, in words that hold all those expected, and nothing is written.
fn check(case: &SmallCase, expected: &[&str]) {
    let problems = match run(case, &[]) {
        Err(Error::Refused(problems)) => problems,
        Err(other) => panic!("not refused: {other}"),
        Ok(_) => panic!("not refused"),
    };
    let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
    assert_eq!(problems.len(), 1, "one fault: {problems:#?}");
    for word in expected {
        assert!(problems[0].contains(word), "no {word:?} in {}", problems[0]);
    }
    assert!(!case.path("capacity").exists(), "something was written");
}

fn main_of(attributes: &Value) -> SmallCase {
    let case = SmallCase::sound();
    case.layer("mains.geojson", &[main_with(attributes)]);
    case
}

#[test]
fn a_grade_of_nothing_or_less() {
    let words = ["mains.geojson", "feature T (number 1): ", "above 0 %"];
    check(&main_of(&json!({ "grade_percent": 0 })), &[&words[..], &["a grade of 0 %", "water does not run"]].concat());
    check(&main_of(&json!({ "grade_percent": -0.2 })), &[&words[..], &["a grade of -0.2 %", "drawn"]].concat());
    let rows = [section(300.0, "design,0.5,1.5,0.9,,102.0,0.035,-1.0")];
    check(&with_sections(&rows), &["sections.csv, row 2: ", "grade_percent \"-1.0\"", "above 0 %"]);
}

#[test]
fn inches_typed_as_millimetres() {
    check(
        &main_of(&json!({ "diameter_mm": 8 })),
        &[
            "mains.geojson",
            "feature T (number 1): ",
            "a diameter of 8 mm",
            "50 mm to 10000 mm",
            "in inches, give 203 mm",
        ],
    );
    let case = SmallCase::sound();
    case.layer("culverts.geojson", &[line(json!({ "id": "C", "diameter_mm": 36 }), [[200.0, 235.0], [200.0, 165.0]])]);
    check(&case, &["culverts.geojson", "feature C (number 1): ", "a diameter of 36 mm", "give 914 mm"]);
}

#[test]
fn a_roughness_of_nothing() {
    let rows = [section(300.0, "design,0.5,1.5,0.9,,102.0,0,1.0")];
    check(&with_sections(&rows), &["sections.csv, row 2: ", "a roughness n of 0", "0.005 to 0.5", "Manning's n"]);
}

#[test]
fn an_unknown_material() {
    check(
        &main_of(&json!({ "material": "corrugated plastik" })),
        &[
            "mains.geojson",
            "feature T (number 1): ",
            "\"corrugated plastik\"",
            "concrete",
            "did you mean \"corrugated plastic\"?",
        ],
    );
    check(&main_of(&json!({ "material": "wood" })), &["\"wood\"", "add it to the table of defaults"]);
}

#[test]
fn a_loop_in_pipes() {
    let case = SmallCase::sound();
    let pipe = |id: &str, ends| line(json!({ "id": id, "class": "private_tile" }), ends);
    let pipes = [
        pipe("T", [[55.0, 105.0], [125.0, 75.0]]),
        pipe("T2", [[125.0, 76.0], [100.0, 140.0]]),
        pipe("T3", [[100.0, 141.0], [56.0, 105.0]]),
    ];
    case.layer("mains.geojson", &pipes);
    check(&case, &["mains.geojson", "a loop of pipes: T, T2, T3, and back to T", "downstream", "turn the pipe"]);
}

#[test]
fn sections_without_datum_or_on_another() {
    let nowhere = section(300.0, "design,0.5,1.5,0.9,,102.0,0.035,1.0").replace("invented datum", "");
    check(&with_sections(&[nowhere]), &["sections.csv, row 2: ", "no datum", "a height datum", "name the datum"]);
    let sound = section(300.0, "design,0.5,1.5,0.9,,102.0,0.035,1.0");
    let other = sound.replace("invented datum", "another datum");
    check(&with_sections(&[sound, other]), &["sections.csv, row 3: ", "another datum", "nothing is converted"]);
}

#[test]
fn sections_that_hold_no_water_or_lie_elsewhere() {
    let of = |rest: &str| with_sections(&[section(300.0, rest)]);
    check(&of("design,0,0,0.9,,102.0,,"), &["row 2", "bottom width and side slope is 0"]);
    check(&of("design,0.5,1.5,,,102.0,,"), &["row 2", "no depth_m", "more than 0"]);
    check(&of("planned,0.5,1.5,0.9,,102.0,,"), &["row 2", "\"planned\"", "design or present"]);
    check(&of("design,,,,0:101 1:100,102.0,,"), &["row 2", "\"0:101 1:100\"", "three or more"]);
    check(&of("design,0.5,1.5,0.9,,,,"), &["row 2", "no bed_m"]);
    let far = section(300.0, "design,0.5,1.5,0.9,,102.0,,").replace("400200", "400260");
    check(&with_sections(&[far]), &["row 2", "60.0 m from the line of WC"]);
    let unknown = section(300.0, "design,0.5,1.5,0.9,,102.0,,").replace("WC,", "WD,");
    check(&with_sections(&[unknown]), &["row 2", "\"WD\"", "ids are text"]);
}

#[test]
fn rain_without_source_or_twice_told() {
    let of = |row: &str| {
        let content = format!("duration_min,return_period_years,depth_mm,intensity_mm_per_h,source\n{row}\n");
        with_tables("[rainfall]\nsource = \"rain.csv\"\n", &[("rain.csv", content)])
    };
    check(&of("60,5,30,,"), &["rain.csv, row 2: ", "no source"]);
    check(&of("60,5,30,30,invented"), &["rain.csv, row 2: ", "one of the two"]);
    check(&of("0,5,30,,invented"), &["rain.csv, row 2: ", "minutes and years above 0"]);
}

#[test]
fn a_table_of_defaults_that_is_not_complete() {
    let case = with_tables(
        "[capacity]\ndefaults = \"own.toml\"\n",
        &[("own.toml", "[freeboard_m]\nvalue = 0.3\n".to_owned())],
    );
    check(&case, &["own.toml", "a complete table of defaults"]);
}

#[test]
fn choices_that_the_table_does_not_have() {
    let of = |choice: &str| with_tables(&format!("[capacity]\n{choice}\n"), &[]);
    check(&of("cover = \"medow\""), &["case.toml", "capacity.cover", "did you mean \"meadow\"?"]);
    check(&of("soil = \"chalk\""), &["case.toml", "capacity.soil", "silt loam"]);
    check(&of("runoff_coefficient = 40"), &["case.toml", "capacity.runoff_coefficient", "1 at most"]);
    check(&of("method = \"curve\""), &["case.toml, key capacity.method: ", "removal_curve, rational, curve_number"]);
    check(&of("drainage_coefficient_mm_per_day = 0"), &["case.toml", "drainage_coefficient", "above 0"]);
}

#[test]
fn a_soil_group_of_its_own() {
    let case = with_tables("[soils]\nsource = \"soils.geojson\"\n", &[]);
    case.layer("soils.geojson", &[crate::small_case::polygon(json!({ "group": "B/D" }), (0.0, 400.0), (0.0, 400.0))]);
    // The file is looked for when the case is read.
    check(&case, &["soils.geojson", "\"B/D\"", "A, B, C or D", "dual group"]);
}
