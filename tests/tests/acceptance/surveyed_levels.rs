//! Surveyed levels: what is refused, and what they decide.

use fallwright::Error;

use crate::results::{list, raster, read_json, text};
use crate::small_case::{SmallCase, creek, culvert};

/// The small case with a file of levels; places are map coordinates of its plan.
fn with_levels(rows: &[(&str, [f64; 2], &str)]) -> SmallCase {
    let case = SmallCase::sound();
    case.edit("[roads]", "[[levels]]\nsource = \"levels.csv\"\n\n[roads]");
    let row = |(feature, [u, v], rest): &(&str, [f64; 2], &str)| {
        format!("{feature},{},{},{rest}\n", 400_000.0 + u, 4_850_000.0 + v)
    };
    let rows: String = rows.iter().map(row).collect();
    case.write("levels.csv", format!("feature,x,y,kind,level_m,date,datum\n{rows}"));
    case
}

fn warnings(case: &SmallCase) -> Vec<String> {
    case.run().unwrap_or_else(|failure| panic!("{failure}"));
    let run = read_json(&case.path("out/run.json"));
    list(&run, "warnings").iter().map(|note| ["about", "found", "done"].map(|key| text(note, key)).join(": ")).collect()
}

fn has(warnings: &[String], words: &[&str]) -> bool {
    warnings.iter().any(|warning| words.iter().all(|word| warning.contains(word)))
}

#[test]
fn all_faults_of_the_levels_are_told_at_once() {
    let case = with_levels(&[
        ("WX", [200.0, 100.0], "bed,100.0,2024-05-17,invented datum"),
        ("WC", [200.0, 100.0], "bottom,100.0,2024-05-17,invented datum"),
        ("WC", [260.0, 100.0], "bed,100.0,2024-05-17,invented datum"),
        ("WC", [200.0, 100.0], "bed,NaN,2024-05-17,"),
        ("WC", [200.0, 100.0], "bed,328.1,2024-05-17,invented datum"),
        ("WC", [200.0, 100.0], "bed,100.0,2024-05-17,another datum"),
    ]);
    let Err(Error::Refused(problems)) = case.run() else { panic!("not refused") };
    let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
    let expected: [&[&str]; 7] = [
        &["2 datums", "another datum", "row 7"],
        &["levels.csv, row 2: ", "\"WX\"", "ids are text"],
        &["levels.csv, row 3: ", "\"bottom\"", "bed, invert or water"],
        &["levels.csv, row 4: ", "60.0 m from WC"],
        &["levels.csv, row 5: ", "no datum"],
        &["levels.csv, row 5: ", "\"NaN\""],
        &["levels.csv, row 6: ", "328.1 m", "unit and datum"],
    ];
    assert_eq!(problems.len(), expected.len(), "{problems:#?}");
    for words in expected {
        let holds = |problem: &&String| words.iter().all(|word| problem.contains(word));
        assert_eq!(problems.iter().filter(holds).count(), 1, "{words:?} in {problems:#?}");
    }
    assert!(!case.path("out").exists(), "something was written");
}

#[test]
fn a_file_of_levels_without_a_column() {
    let case = with_levels(&[]);
    case.write("levels.csv", "feature,x,y,kind,level,date\n");
    let Err(Error::Refused(problems)) = case.run() else { panic!("not refused") };
    let problems: Vec<String> = problems.iter().map(ToString::to_string).collect();
    assert_eq!(problems.len(), 2, "{problems:#?}");
    assert!(problems.iter().any(|problem| problem.contains("no column \"level_m\"")), "{problems:#?}");
    assert!(problems.iter().any(|problem| problem.contains("no column \"datum\"")), "{problems:#?}");
}

/// The ground falls from the culvert's beginning to its end by 0.7 m; inverts surveyed at both ends say the opposite.
#[test]
fn surveyed_inverts_give_a_culvert_its_direction() {
    let case = with_levels(&[
        ("C", [200.0, 236.0], "invert,101.2,2024-05-17,invented datum"),
        ("C", [201.0, 164.0], "invert,101.9,2019,invented datum"),
        ("C", [201.0, 164.0], "invert,101.5,2024-05-17,invented datum"),
    ]);
    let warnings = warnings(&case);
    assert!(
        has(&warnings, &["structure C", "drawn uphill", "surveyed inverts", "0.30 m", "the other way"]),
        "{warnings:#?}"
    );
    assert!(has(&warnings, &["levels", "invented datum", "taken to be the elevation's datum"]), "{warnings:#?}");
}

#[test]
fn a_layers_inverts_are_compared_with_the_surveyed_ones() {
    let inverts = |down: f64| {
        let case = with_levels(&[
            ("C", [200.0, 236.0], "invert,101.8,2024-05-17,invented datum"),
            ("C", [201.0, 164.0], "invert,101.2,2024-05-17,invented datum"),
        ]);
        let mut drawn = culvert([[200.0, 235.0], [200.0, 165.0]]);
        drawn["properties"]["invert_up_m"] = 101.82.into();
        drawn["properties"]["invert_down_m"] = down.into();
        case.layer("culverts.geojson", &[drawn]);
        warnings(&case)
    };
    let conflict = ["structure C", "102.30 m at its end in culverts.geojson", "101.20 m surveyed", "row 3"];
    assert!(has(&inverts(102.3), &conflict), "{:#?}", inverts(102.3));
    assert!(!has(&inverts(102.3), &["drawn uphill"]));
    assert!(!has(&inverts(101.24), &["surveyed ("]));
}

/// Without a survey the bed lies 0.1 m below the lowest ground beside it; between two levels it is straight. Ground along
/// the creek: 100 m + 1 % of v, and 0.1 m more at the nearest cells' centres.
#[test]
fn a_waterway_takes_its_bed_from_surveyed_levels() {
    let levels = |kind: &str| {
        with_levels(&[
            ("WC", [203.0, 305.0], &format!("{kind},102.0,2024-05-17,invented datum")),
            ("WC", [203.0, 105.0], &format!("{kind},100.0,2024-05-17,invented datum")),
        ])
    };
    let bed = |case: &SmallCase, row: usize| {
        let ground = raster(&case.path("out/ground.tif"));
        let lowest = [19, 20].map(|col| ground[ground.frame.cell(col, row)]).into_iter().fold(f32::INFINITY, f32::min);
        (lowest * 100.0).round() / 100.0
    };
    let (surveyed, not_of_the_bed) = (levels("bed"), levels("water"));
    let warnings = warnings(&surveyed);
    assert!(has(&warnings, &["waterway WC", "2 surveyed bed levels", "along 200 m"]), "{warnings:#?}");
    not_of_the_bed.run().unwrap_or_else(|failure| panic!("{failure}"));
    let rows = [9, 14, 19, 29];
    assert_eq!(rows.map(|row| bed(&surveyed, row)), [102.0, 101.5, 101.0, 100.0]);
    assert_eq!(rows.map(|row| bed(&not_of_the_bed, row)), [102.95, 102.45, 101.95, 100.95]);
}

/// The ground rises along the creek as it is drawn; a surveyed bed that falls is believed.
#[test]
fn a_surveyed_bed_says_which_way_a_waterway_runs() {
    let case = with_levels(&[
        ("WC", [200.0, 105.0], "bed,100.5,2024-05-17,invented datum"),
        ("WC", [200.0, 305.0], "bed,100.2,2024-05-17,invented datum"),
    ]);
    case.layer("creek.geojson", &[creek([[200.0, 5.0], [200.0, 395.0]])]);
    let warnings = warnings(&case);
    let words = ["waterway WC", "drawn uphill", "3.90 m", "surveyed bed falls by 0.30 m", "the way it is drawn"];
    assert!(has(&warnings, &words), "{warnings:#?}");
}

#[test]
fn surveyed_levels_that_rise_downstream_are_told() {
    let case = with_levels(&[
        ("WC", [200.0, 305.0], "bed,101.0,2024-05-17,invented datum"),
        ("WC", [200.0, 105.0], "bed,101.3,2024-05-17,invented datum"),
    ]);
    let warnings = warnings(&case);
    let words = ["waterway WC", "rise downstream", "101 m (levels.csv row 2)", "101.3 m (levels.csv row 3)", "silted"];
    assert!(has(&warnings, &words), "{warnings:#?}");
    let above = ["waterway WC", "0.15 m above the ground", "not raised"];
    assert!(has(&warnings, &above), "{warnings:#?}");
}
