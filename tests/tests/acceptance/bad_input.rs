//! Faulty input: what is refused, and with which words; what is put right and noted.
//!
//! Each test spoils one thing of the small sound case. The expected words are those a user needs to find the fault: the
//! file, the feature, what was found and what to do.

use std::fs;

use fallwright::{Budget, Error, ErrorKind, Inputs, commands};
use fallwright_case::AssessedFor;
use serde_json::{Value, json};

use crate::results::{BUDGET, list, number, properties, read_json, silent, sum, text, texts};
use crate::small_case::{SmallCase, creek, culvert, line, parcel, polygon, ring};

/// Spoils the case in one way; the run must be refused for that alone, in words that hold all those expected, and
/// write nothing.
fn check(spoil: impl FnOnce(&SmallCase), expected: &[&str]) {
    let case = SmallCase::sound();
    spoil(&case);
    let problems = refused(&case);
    assert_eq!(problems.len(), 1, "one fault: {problems:#?}");
    for word in expected {
        assert!(problems[0].contains(word), "no {word:?} in {}", problems[0]);
    }
}

fn refused(case: &SmallCase) -> Vec<String> {
    let problems = match case.run() {
        Err(Error::Refused(problems)) => problems,
        Err(other) => panic!("not refused: {other}"),
        Ok(_) => panic!("not refused"),
    };
    assert!(!case.path("out").exists(), "something was written");
    problems.iter().map(ToString::to_string).collect()
}

/// Spoils the case in one way; the run must go through and warn in words that hold all those expected.
fn noted(spoil: impl FnOnce(&SmallCase), expected: &[&str]) -> SmallCase {
    let case = SmallCase::sound();
    spoil(&case);
    run(&case);
    let warnings = warnings(&case);
    let words = |warning: &String| expected.iter().all(|word| warning.contains(word));
    assert!(warnings.iter().any(words), "no {expected:?} in {warnings:#?}");
    case
}

fn run(case: &SmallCase) {
    if let Err(failure) = case.run() {
        let Error::Refused(problems) = failure else { panic!("{failure}") };
        panic!("{}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"));
    }
}

fn warnings(case: &SmallCase) -> Vec<String> {
    let run = read_json(&case.path("out/run.json"));
    let words = |warning: &Value| ["about", "found", "done"].map(|key| text(warning, key)).join(": ");
    list(&run, "warnings").iter().map(words).collect()
}

fn parcels(case: &SmallCase) -> Vec<Value> {
    properties(&read_json(&case.path("out/parcels.geojson")))
}

/// The water of both parcels goes down the creek, where they have a right, and nothing is lost.
fn both_drain_to_the_creek(case: &SmallCase) {
    for parcel in parcels(case) {
        assert_eq!((text(&parcel, "standing"), text(&parcel, "outlet_id")), ("right", "WC"), "{parcel}");
    }
    let run = read_json(&case.path("out/run.json"));
    assert_eq!(run["counts"]["cells_to_ends"], 1_600);
    let reaches = properties(&read_json(&case.path("out/reaches.geojson")));
    for reach in &reaches {
        assert!(number(reach, "ground_up_m") >= number(reach, "ground_down_m"), "{reach}");
    }
    let most = reaches.iter().map(|reach| number(reach, "surface_ha")).fold(0.0, f64::max);
    assert!(most > 15.0, "the creek carries the valley's 16 ha, found {most}");
}

#[test]
fn the_case_to_spoil_is_sound() {
    let case = SmallCase::sound();
    run(&case);
    assert_eq!(warnings(&case), Vec::<String>::new());
    both_drain_to_the_creek(&case);
}

#[test]
fn an_empty_parcel_layer() {
    check(|case| case.layer("parcels.geojson", &[]), &["parcels.geojson", "no features", "at least one feature"]);
}

/// The zone of a place is one sixth of its degrees east of 180°, plus one: 82.24° W lies in zone 17, which is EPSG 32617
/// on WGS 84 and 26917 on NAD 83.
#[test]
fn elevation_in_degrees() {
    let degrees = |crs: &'static str| move |case: &SmallCase| case.elevation_in_degrees("elevation.tif", crs);
    check(degrees("EPSG:4326"), &["elevation.tif", "degree", "projected", "EPSG:32617", "warp"]);
    check(degrees("EPSG:4269"), &["elevation.tif", "degree", "projected", "EPSG:26917", "warp"]);
}

/// The numbers of UTM zone 17 on no known datum, as some programs write it.
const UNNAMED: &str = "PROJCS[\"unnamed\",GEOGCS[\"unknown\",DATUM[\"unknown\",SPHEROID[\"GRS 1980\",6378137,298.257222101]],\
    PRIMEM[\"Greenwich\",0],UNIT[\"degree\",0.0174532925199433]],PROJECTION[\"Transverse_Mercator\"],\
    PARAMETER[\"latitude_of_origin\",0],PARAMETER[\"central_meridian\",-81],PARAMETER[\"scale_factor\",0.9996],\
    PARAMETER[\"false_easting\",500000],PARAMETER[\"false_northing\",0],UNIT[\"metre\",1]]";

fn stated(case: &SmallCase, crs: &str) {
    case.edit("[terrain]", &format!("crs = \"{crs}\"\n\n[terrain]"));
}

/// Results are written in longitude and latitude, which needs a datum; `check` finds that too, whatever layers there are.
#[test]
fn a_system_without_longitude_and_latitude() {
    let unnamed = |case: &SmallCase| case.elevation_in(UNNAMED);
    check(unnamed, &["elevation.tif", "datum is not known", "longitude and latitude", "crs = \"EPSG:...\""]);
    let case = SmallCase::sound();
    unnamed(&case);
    case.write("alone.toml", "[terrain]\nelevation = [\"elevation.tif\"]\nvertical_unit = \"m\"\n");
    let Err(Error::Refused(problems)) = commands::check(&case.path("alone.toml"), &BUDGET, &silent) else {
        panic!("not refused")
    };
    assert_eq!(problems.len(), 1, "{problems:#?}");
    let message = problems[0].to_string();
    assert!(message.len() < 400 && !message.contains('['), "{message}");
}

#[test]
fn a_system_without_a_name_is_what_the_case_says() {
    let spoil = |case: &SmallCase| {
        case.elevation_in(UNNAMED);
        stated(case, "EPSG:26917");
    };
    both_drain_to_the_creek(&noted(spoil, &["elevation.tif", "without a name", "taken to be EPSG:26917"]));
    let plain = |case: &SmallCase| {
        case.elevation_in("LOCAL_CS[\"unnamed\",UNIT[\"metre\",1]]");
        stated(case, "EPSG:26917");
    };
    both_drain_to_the_creek(&noted(plain, &["elevation.tif", "taken to be EPSG:26917"]));
    let elsewhere = |case: &SmallCase| {
        case.elevation_in(UNNAMED);
        stated(case, "EPSG:26916");
    };
    check(elsewhere, &["elevation.tif", "unnamed", "EPSG:26916", "as the case file says"]);
}

#[test]
fn no_vertical_unit() {
    let spoil = |case: &SmallCase| {
        case.elevation("elevation.tif", (0, 0), (40, 40), None);
        case.edit("vertical_unit = \"m\"\n", "");
    };
    check(spoil, &["elevation.tif", "no vertical unit", "m, ft or us-ft", "vertical_unit"]);
}

#[test]
fn units_that_contradict_each_other() {
    check(
        |case| case.elevation("elevation.tif", (0, 0), (40, 40), Some("ft")),
        &["elevation.tif", "heights in ft", "heights in m"],
    );
}

#[test]
fn a_parcel_layer_elsewhere() {
    let far = [parcel("001", (100_020.0, 100_200.0)), parcel("002", (100_200.0, 100_380.0))];
    check(|case| case.layer("parcels.geojson", &far), &["parcels.geojson", "within the extent of the elevation"]);
}

#[test]
fn a_parcel_outside_the_elevation() {
    let case = SmallCase::sound();
    let all = [parcel("001", (20.0, 200.0)), parcel("002", (200.0, 380.0)), parcel("003", (1_020.0, 1_200.0))];
    case.layer("parcels.geojson", &all);
    run(&case);
    let found = parcels(&case);
    let standings: Vec<_> = found.iter().map(|parcel| (text(parcel, "parcel_id"), text(parcel, "standing"))).collect();
    assert_eq!(standings, [("001", "right"), ("002", "right"), ("003", "undecided")]);
    assert_eq!(texts(&found[2], "reasons"), ["outside_elevation_data"]);
    assert_eq!((number(&found[2], "own_ha"), number(&found[2], "area_ha")), (0.0, 6.48));
}

#[test]
fn a_polygon_that_crosses_itself() {
    let bow_tie = ring(
        json!({ "roll": "002", "owner": null }),
        &[[210.0, 30.0], [370.0, 370.0], [370.0, 30.0], [210.0, 370.0], [210.0, 30.0]],
    );
    check(
        |case| case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), bow_tie]),
        &["parcels.geojson", "feature 002", "a valid polygon", "mend"],
    );
}

/// Parcel 002 with a loop at its south-east corner, turned the other way: two triangles whose sides cross in the middle, each
/// half as high as `size`, by hand `size`² / 4.
fn with_loop(size: f64) -> Value {
    let (west, east, south, north) = (200.0, 380.0, 20.0, 380.0);
    let corners = [
        [west, south],
        [east, south],
        [east + size, south + size],
        [east + size, south],
        [east, south + size],
        [east, north],
        [west, north],
        [west, south],
    ];
    ring(json!({ "roll": "002", "owner": null }), &corners)
}

#[test]
fn a_ring_that_crosses_itself_is_mended_on_request() {
    let spoil = |size: f64, repair: &'static str| {
        move |case: &SmallCase| {
            case.edit("owner = \"owner\"", &format!("owner = \"owner\"\n{repair}"));
            case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), with_loop(size)]);
        }
    };
    check(spoil(4.0, ""), &["parcels.geojson", "feature 002", "a valid polygon", "repair = true"]);
    // 4 m² of ground; the triangle's perimeter is 4 m and twice the root of 8 m.
    let expected = ["parcels.geojson, feature 002", "mended; that changes 4.00 m²", "0.83 m wide"];
    let mended = noted(spoil(4.0, "repair = true"), &expected);
    both_drain_to_the_creek(&mended);
    let area = number(&parcels(&mended)[1], "area_ha");
    assert!((area - (180.0 * 360.0 + 8.0) / 10_000.0).abs() < 1e-4, "{area}");
    // 100 m², 4.14 m wide: more than a sliver of 2 m.
    check(spoil(20.0, "repair = true"), &["feature 002", "mending would change 100.00 m²", "4.14 m", "at most 2 m"]);
}

#[test]
fn two_parcels_with_one_id() {
    let twice = [parcel("001", (20.0, 200.0)), parcel("001", (200.0, 380.0))];
    check(|case| case.layer("parcels.geojson", &twice), &["parcels.geojson", "feature 001", "features 1, 2"]);
}

#[test]
fn a_parcel_without_an_id() {
    let mut nameless = parcel("", (200.0, 380.0));
    nameless["properties"]["roll"] = Value::Null;
    check(
        |case| case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), nameless]),
        &["parcels.geojson", "feature number 2: ", "\"roll\""],
    );
}

/// 1 m by 360 m within an accuracy of 2 m.
#[test]
fn a_small_overlap() {
    let overlapping = [parcel("001", (20.0, 200.0)), parcel("002", (199.0, 380.0))];
    let case = noted(
        |case| case.layer("parcels.geojson", &overlapping),
        &["001", "002", "360.00 m²", "1.00 m wide", "sliver", "stays with 001"],
    );
    both_drain_to_the_creek(&case);
    assert_eq!(sum(&parcels(&case), "own_ha"), 12.96);
}

/// 10 m by 360 m.
#[test]
fn a_large_overlap() {
    let overlapping = [parcel("001", (20.0, 200.0)), parcel("002", (190.0, 380.0))];
    check(
        |case| case.layer("parcels.geojson", &overlapping),
        &["parcels.geojson", "001 and 002", "0.36 ha", "3600.00 m²", "2 m"],
    );
}

#[test]
fn ids_keep_their_zeros() {
    let case = SmallCase::sound();
    let long = "000000000000000000123";
    case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), parcel(long, (200.0, 380.0))]);
    run(&case);
    let ids: Vec<String> = parcels(&case).iter().map(|parcel| text(parcel, "parcel_id").to_owned()).collect();
    assert_eq!(ids, [long, "001"]);
}

/// Its end lies 3.9 m above its beginning.
#[test]
fn a_creek_drawn_uphill() {
    let uphill = [creek([[200.0, 5.0], [200.0, 395.0]])];
    let case = noted(|case| case.layer("creek.geojson", &uphill), &["WC", "drawn uphill", "3.90 m", "the other way"]);
    both_drain_to_the_creek(&case);
}

/// Its end lies 0.7 m above its beginning; with inverts they decide.
#[test]
fn a_culvert_drawn_uphill() {
    let uphill = culvert([[200.0, 165.0], [200.0, 235.0]]);
    let mut with_inverts = culvert([[200.0, 235.0], [200.0, 165.0]]);
    with_inverts["properties"]["invert_up_m"] = json!(101.0);
    with_inverts["properties"]["invert_down_m"] = json!(101.5);
    let words = ["structure C", "drawn uphill", "by its ground", "0.70 m"];
    both_drain_to_the_creek(&noted(|case| case.layer("culverts.geojson", &[uphill]), &words));
    let words = ["structure C", "drawn uphill", "by its inverts", "0.50 m"];
    noted(|case| case.layer("culverts.geojson", &[with_inverts]), &words);
}

#[test]
fn a_culvert_that_nothing_gives_a_direction() {
    let across = |case: &SmallCase| case.layer("culverts.geojson", &[culvert([[160.0, 200.0], [240.0, 200.0]])]);
    check(across, &["culverts.geojson", "C", "no inverts", "invert_up_m"]);
}

#[test]
fn a_kept_depression_that_is_none() {
    let keep = |u: (f64, f64)| {
        move |case: &SmallCase| {
            case.edit("vertical_unit", "keep_depressions = \"hollow.geojson\"\nvertical_unit");
            case.layer("hollow.geojson", &[polygon(json!({}), u, (80.0, 120.0))]);
        }
    };
    both_drain_to_the_creek(&noted(keep((201.0, 219.0)), &["kept depression number 1", "mapped channel"]));
    both_drain_to_the_creek(&noted(keep((60.0, 100.0)), &["kept depression number 1", "falls away"]));
    let on_a_flat = |case: &SmallCase| {
        case.elevation_with_terrace();
        keep((60.0, 100.0))(case);
    };
    both_drain_to_the_creek(&noted(on_a_flat, &["kept depression at 40", "holds no water", "its water goes on"]));
}

#[test]
fn a_misspelt_key() {
    let misspell = |from: &'static str, to: &'static str| move |case: &SmallCase| case.edit(from, to);
    check(
        misspell("abut_tolerance_m", "abut_tolerence_m"),
        &["case.toml", "rules.abut_tolerence_m", "did you mean abut_tolerance_m"],
    );
    check(misspell("[roads]", "[rods]"), &["case.toml", "rods", "did you mean roads"]);
    check(misspell("members", "member"), &["case.toml", "waterways[1].member", "did you mean members"]);
}

#[test]
fn an_unknown_class() {
    let mut misspelt = creek([[200.0, 395.0], [200.0, 5.0]]);
    misspelt["properties"]["kind"] = json!("natural_watercorse");
    check(
        |case| {
            case.layer("creek.geojson", &[misspelt]);
            case.edit("drain = \"WC\"", "drain = \"T\"");
        },
        &["creek.geojson", "WC", "natural_watercorse", "did you mean \"natural_watercourse\""],
    );
}

/// The creek with another word for its class.
fn creek_called(kind: &str) -> Value {
    let mut creek = creek([[200.0, 395.0], [200.0, 5.0]]);
    creek["properties"]["kind"] = json!(kind);
    creek
}

#[test]
fn own_words_for_classes() {
    let sound = |kind: &str, class_map: &str| {
        let case = SmallCase::sound();
        case.layer("creek.geojson", &[creek_called(kind)]);
        case.edit("class_field = \"kind\"\n", &format!("class_field = \"kind\"\n{class_map}"));
        run(&case);
        assert_eq!(warnings(&case), Vec::<String>::new());
        both_drain_to_the_creek(&case);
    };
    sound("Natural Watercourse", "");
    sound("NATURAL-WATERCOURSE", "");
    sound("Creek", "class_map = { \"Creek\" = \"natural_watercourse\" }\n");
    sound("creek", "class_map = { \"Creek\" = \"Natural watercourse\" }\n");
    sound("natural_watercourse", "class_map = {}\n");
}

#[test]
fn own_words_that_stand_for_nothing() {
    let called = |kind: &'static str, class_map: &'static str| {
        move |case: &SmallCase| {
            case.layer("creek.geojson", &[creek_called(kind)]);
            case.edit("class_field = \"kind\"\n", &format!("class_field = \"kind\"\n{class_map}"));
        }
    };
    // The schedule's drain is the creek: that its class is not known makes it no unknown drain.
    let words = ["creek.geojson", "feature WC", "the class \"Brook\" in the field \"kind\"", "municipal_drain, "];
    check(called("Brook", ""), &[&words[..], &["class_map = { \"Brook\" = "]].concat());
    let with_map = |kind| called(kind, "class_map = { \"Creek\" = \"natural_watercourse\" }\n");
    check(with_map("Brook"), &[&words[..], &["add \"Brook\" = \"...\" to its class_map"]].concat());
    check(with_map("Crek"), &["did you mean \"Creek\"?", "add \"Crek\" = \"natural_watercourse\" to its class_map"]);
    check(
        called("Creek", "class_map = { \"Creek\" = \"natural_watercorse\" }\n"),
        &[
            "case.toml",
            "waterways[1].class_map",
            "\"natural_watercorse\" for \"Creek\"",
            "did you mean \"natural_watercourse\"?",
        ],
    );
    check(
        called("Creek", "class_map = { \"Creek\" = \"natural_watercourse\", \"CREEK\" = \"road_ditch\" }\n"),
        &["case.toml", "waterways[1].class_map", "\"CREEK\" and \"Creek\"", "keep one of them"],
    );
    check(
        |case| case.edit("class_field = \"kind\"", "class = \"brook\""),
        &["case.toml", "waterways[1].class", "the class \"brook\"", "municipal_drain"],
    );
    let unused = "class_map = { \"Creek\" = \"natural_watercourse\", \"Brok\" = \"road_ditch\" }\n";
    noted(called("Creek", unused), &["class_map of creek.geojson", "no feature has", "Brok", "left unused"]);
}

#[test]
fn own_words_of_pipes() {
    let main = |class: &str| line(json!({ "id": "T", "class": class }), [[55.0, 105.0], [195.0, 45.0]]);
    let called = |class: &'static str, class_map: &'static str| {
        move |case: &SmallCase| {
            case.layer("mains.geojson", &[main(class)]);
            case.edit("source = \"mains.geojson\"\n", &format!("source = \"mains.geojson\"\n{class_map}"));
        }
    };
    let sound = |spoil: &dyn Fn(&SmallCase)| {
        let case = SmallCase::sound();
        spoil(&case);
        run(&case);
        assert_eq!(warnings(&case), Vec::<String>::new());
    };
    sound(&called("Private tile", ""));
    sound(&called("Farm tile", "class_map = { \"farm tile\" = \"private_tile\" }\n"));
    check(called("Farm tile", ""), &["mains.geojson", "feature T", "\"Farm tile\"", "private_tile", "class_map"]);
}

/// One message for a word, however many features have it.
#[test]
fn one_word_of_many_features() {
    let drain = |number: i32| {
        let east = 150.0 + f64::from(number);
        line(json!({ "id": format!("D-{number}"), "kind": "MD", "parties": null }), [[east, 395.0], [east, 5.0]])
    };
    let drains: Vec<Value> = (1..=14).map(drain).collect();
    check(
        |case| {
            case.layer("creek.geojson", &drains);
            case.edit("drain = \"WC\"", "drain = \"D-1\"");
        },
        &["feature D-1 (number 1)", "\"MD\"", "13 more", "D-2 (number 2), ", "D-11 (number 11), …"],
    );
}

#[test]
fn materials_in_any_spelling() {
    let made_of = |material: &'static str| {
        move |case: &SmallCase| {
            let mut culvert = culvert([[200.0, 235.0], [200.0, 165.0]]);
            culvert["properties"]["material"] = json!(material);
            case.layer("culverts.geojson", &[culvert]);
        }
    };
    for material in ["corrugated steel", "Corrugated Steel", "CORRUGATED_STEEL", "corrugated-steel"] {
        let case = SmallCase::sound();
        made_of(material)(&case);
        run(&case);
    }
    check(made_of("corrugated stel"), &["culverts.geojson", "C", "did you mean \"corrugated steel\"?"]);
}

#[test]
fn a_field_that_is_not_there() {
    check(|case| case.edit("id = \"roll\"", "id = \"rol\""), &["parcels.geojson", "\"rol\"", "roll, owner"]);
}

#[test]
fn too_little_memory() {
    let case = SmallCase::sound();
    let budget = Budget::of(1 << 10);
    let Err(Error::Refused(problems)) = fallwright::commands::check(&case.path("case.toml"), &budget, &|_| ()) else {
        panic!("not refused")
    };
    let message = problems[0].to_string();
    for words in ["elevation.tif", "1 MiB of memory allowed", "at least ", "--max-memory"] {
        assert!(message.contains(words), "no {words:?} in {message}");
    }
}

#[test]
fn a_missing_file() {
    check(
        |case| fs::remove_file(case.path("parcels.geojson")).unwrap(),
        &["case.toml", "parcels.source", "parcels.geojson", "does not exist"],
    );
    check(
        |case| fs::remove_file(case.path("elevation.tif")).unwrap(),
        &["case.toml", "terrain.elevation", "elevation.tif", "does not exist"],
    );
}

#[test]
fn an_unreadable_file() {
    let use_as_parcels =
        |case: &SmallCase, name: &str| case.edit("source = \"parcels.geojson\"", &format!("source = {name:?}"));
    check(
        |case| {
            fs::create_dir(case.path("folder.gpkg")).unwrap();
            use_as_parcels(case, "folder.gpkg");
        },
        &["folder.gpkg"],
    );
    check(
        |case| {
            case.write("garbage.gpkg", [0x47, 0x50, 0x00, 0xff].repeat(500));
            use_as_parcels(case, "garbage.gpkg");
        },
        &["garbage.gpkg"],
    );
    check(|case| case.write("elevation.tif", [0x49, 0x49, 0x2a, 0x00].repeat(500)), &["elevation.tif"]);
    check(|case| case.write("case.toml", [0xff, 0xfe, 0x00]), &["case.toml", "UTF-8"]);
}

/// Mode bits do not bind a superuser, so the folder is one that nobody can make.
#[test]
fn an_output_folder_that_cannot_be_made() {
    let case = SmallCase::sound();
    case.write("out", "a file where the folder should be");
    match case.run() {
        Err(error) if error.kind() == ErrorKind::Failed => {
            let words = error.to_string();
            assert!(words.contains("out") && words.contains("cannot be written"), "{words}");
        }
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("written into a file"),
    }
    assert_eq!(fs::read_to_string(case.path("out")).unwrap(), "a file where the folder should be");
}

#[test]
fn a_file_where_the_output_folder_should_be() {
    let case = SmallCase::sound();
    case.write("out", "not a folder");
    let Err(failure) = case.run() else { panic!("written") };
    assert!(failure.to_string().contains("it is a file, and a folder is needed"), "{failure}");
}

#[test]
fn an_output_folder_that_holds_something() {
    let case = SmallCase::sound();
    fs::create_dir(case.path("out")).unwrap();
    case.write("out/mine.txt", "mine");
    match case.run() {
        Err(error) if error.kind() == ErrorKind::Usage => {
            let words = error.to_string();
            assert!(words.contains("not empty") && words.contains("--overwrite"), "{words}");
        }
        Err(other) => panic!("{other}"),
        Ok(_) => panic!("written beside another file"),
    }
    let left: Vec<_> = fs::read_dir(case.path("out")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["mine.txt"]);
}

#[test]
fn a_mosaic_with_a_missing_tile() {
    let tiles = [(0, 0), (20, 0), (0, 20), (20, 20)];
    let name = |(col, row): (usize, usize)| format!("tile_{col}_{row}.tif");
    let mosaic = |case: &SmallCase, without: Option<(usize, usize)>| {
        for tile in tiles.into_iter().filter(|&tile| Some(tile) != without) {
            case.elevation(&name(tile), tile, (20, 20), Some("m"));
        }
        case.edit("\"elevation.tif\"", "\"tile_*.tif\"");
    };
    let whole = SmallCase::sound();
    mosaic(&whole, None);
    run(&whole);
    both_drain_to_the_creek(&whole);
    // The south-east tile: x from 400 200 to 400 400, y from 4 850 000 to 4 850 200.
    check(|case| mosaic(case, Some((20, 20))), &["tile_0_0.tif", "no tile", "400200", "400400", "4850000", "4850200"]);
    check(|case| mosaic(case, Some((0, 0))), &["no tile", "400000", "400200", "4850200", "4850400"]);
}

#[test]
fn a_schedule_of_an_unknown_drain() {
    check(|case| case.edit("drain = \"WC\"", "drain = \"WX\""), &["schedule.csv", "\"WX\"", "waterway or pipe"]);
}

#[test]
fn a_schedule_with_a_faulty_row() {
    let rows = |rows: &'static str| move |case: &SmallCase| case.write("schedule.csv", format!("roll,ha\n{rows}"));
    check(rows("001,6.5\n002,1.0\n001,2.0\n"), &["schedule.csv, row 4: ", "001 again", "row 2"]);
    check(rows("001,six\n"), &["schedule.csv, row 2: ", "\"six\""]);
    check(rows("001,-1\n"), &["schedule.csv, row 2: ", "\"-1\""]);
    check(rows("001,6.5\n").and("roll", "rolls"), &["schedule.csv", "\"rolls\"", "roll, ha"]);
}

/// Spoils a case and then renames the schedule's column of parcels in the case file.
trait AndColumn {
    fn and(self, column: &'static str, renamed: &'static str) -> impl FnOnce(&SmallCase);
}

impl<F: FnOnce(&SmallCase)> AndColumn for F {
    fn and(self, column: &'static str, renamed: &'static str) -> impl FnOnce(&SmallCase) {
        move |case| {
            self(case);
            case.edit(&format!("parcel = {column:?}"), &format!("parcel = {renamed:?}"));
        }
    }
}

#[test]
fn a_schedule_of_unknown_parcels() {
    noted(|case| case.write("schedule.csv", "roll,ha\n001,6.5\n999,1.0\n"), &["schedule of WC", "999"]);
}

/// Each parcel has 6.48 ha, 16.01 acres.
#[test]
fn a_schedule_in_acres() {
    let acres = "roll,ha\n001,16.0\n002,12.0\n";
    noted(|case| case.write("schedule.csv", acres), &["schedule of WC", "2.47 times", "001", "unit = \"ac\""]);
    let case = SmallCase::sound();
    case.write("schedule.csv", acres);
    case.edit("hectares = \"ha\"", "hectares = \"ha\"\nunit = \"ac\"");
    run(&case);
    assert_eq!(warnings(&case), Vec::<String>::new());
}

/// What the case holds once it is read.
#[test]
fn a_schedule_by_branch_and_for_benefit() {
    let case = SmallCase::sound();
    case.write("schedule.csv", "roll,ha,out,ben,branch\n001,4,100,0,Main\n001,2,50,10,A\n002,3,,75,Main\n");
    case.edit(
        "hectares = \"ha\"",
        "hectares = \"ha\"\noutlet = \"out\"\nbenefit = \"ben\"\nbranch = \"branch\"\ndated = \"1998-06-15\"",
    );
    let inputs = Inputs::open(&case.path("case.toml"), &BUDGET, &|_| ()).unwrap_or_else(|faults| panic!("{faults:#?}"));
    let schedule = &inputs.schedules[0];
    assert_eq!(schedule.dated.map(|date| date.to_string()).as_deref(), Some("1998-06-15"));
    assert_eq!(schedule.assessed["001"].assessed(), AssessedFor::Outlet(6.0));
    assert_eq!(schedule.assessed["002"].assessed(), AssessedFor::BenefitOnly(3.0));
    run(&case);
}

#[test]
fn tiled_land_without_its_main() {
    let lost = polygon(json!({ "main": "T-9" }), (50.0, 150.0), (100.0, 160.0));
    check(|case| case.layer("tiled.geojson", &[lost]), &["tiled.geojson", "\"T-9\"", "[[pipes]]"]);
}

#[test]
fn members_that_no_parcel_is() {
    let mut agreed = creek([[200.0, 395.0], [200.0, 5.0]]);
    agreed["properties"]["parties"] = json!(["001", "099"]);
    noted(|case| case.layer("creek.geojson", &[agreed]), &["WC", "members", "099"]);
}

#[test]
fn faults_of_many_layers_are_told_at_once() {
    let case = SmallCase::sound();
    let bow_tie = [[210.0, 30.0], [370.0, 370.0], [370.0, 30.0], [210.0, 370.0], [210.0, 30.0]];
    let bow_tie = ring(json!({ "roll": "002", "owner": null }), &bow_tie);
    case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), bow_tie]);
    let mut unknown_class = creek([[100.0, 395.0], [100.0, 5.0]]);
    unknown_class["properties"] = json!({ "id": "WD", "kind": "brook", "parties": null });
    case.layer("creek.geojson", &[creek([[200.0, 395.0], [200.0, 5.0]]), unknown_class]);
    let again = culvert([[200.0, 135.0], [200.0, 65.0]]);
    case.layer("culverts.geojson", &[culvert([[200.0, 235.0], [200.0, 165.0]]), again]);
    case.layer("tiled.geojson", &[polygon(json!({ "main": "T-9" }), (50.0, 150.0), (100.0, 160.0))]);
    case.write("schedule.csv", "roll,ha\n001,6.5\n001,2.0\n");
    case.layer("roads.geojson", &[line(json!({}), [[0.0, 200.0], [400.0, 200.0]])]);
    let problems = refused(&case);
    let expected = [
        ["creek.geojson", "brook"],
        ["culverts.geojson", "features 1, 2"],
        ["parcels.geojson", "a valid polygon"],
        ["roads.geojson", "a polygon"],
        ["schedule.csv", "001 again"],
        ["tiled.geojson", "T-9"],
    ];
    assert_eq!(problems.len(), expected.len(), "{problems:#?}");
    for (problem, words) in problems.iter().zip(expected) {
        assert!(words.iter().all(|word| problem.contains(word)), "no {words:?} in {problem}");
    }
}

/// Unknown keys, values of the case file, rows of every CSV file and features of a layer, in one run.
#[test]
fn faults_of_the_case_file_its_tables_and_its_layers_are_reported_together() {
    let case = SmallCase::sound();
    case.edit("owner = \"owner\"", "ownr = \"owner\"");
    case.edit("abut_tolerance_m = 2.0", "abut_tolerance_m = -2.0");
    case.edit("members = \"parties\"", "member = \"parties\"\nwidht_m = \"width\"");
    let tables = [
        "[[schedules]]\nsource = \"branch.csv\"\ndrain = \"T\"\nparcel = \"roll\"\nhectares = \"ha\"\n",
        "[[levels]]\nsource = \"levels.csv\"\n[[sections]]\nsource = \"sections.csv\"\n",
        "[rainfall]\nsource = \"idf.csv\"\n[[culvert]]\nsource = \"x\"\n",
    ];
    case.edit("[roads]", &(tables.concat() + "[roads]"));
    case.write("schedule.csv", "roll,ha\n001,six\n002,1,2\n002,-1\n");
    case.write("branch.csv", "roll,ha\n001,1\n001,2\n");
    case.write("levels.csv", "feature,x,y,kind,level_m,date,datum\nWC,0,0,bed,east,2024,D\nWC,0,0,bad,9,20,D\n");
    let columns = "drain,x,y,kind,bottom_m,side_slope,depth_m,points,bed_m,n,grade_percent,date,datum";
    case.write("sections.csv", format!("{columns}\nWX,0,0,design,1,1,1,,99,,,,D\nWC,0,0,new,1,1,1,,99,,,,D\n"));
    let columns = "duration_min,return_period_years,depth_mm,intensity_mm_per_h,source";
    case.write("idf.csv", format!("{columns}\n0,5,20,,gauge\n60,5,,,\n"));
    case.layer("creek.geojson", &[creek_called("Brook")]);
    let problems = refused(&case);
    for words in [
        ["parcels.ownr: ", "did you mean owner?"],
        ["rules.abut_tolerance_m: ", "-2"],
        ["waterways[1].member: ", "did you mean members?"],
        ["waterways[1].widht_m: ", "did you mean width_m?"],
        ["culvert: ", "did you mean culverts?"],
        ["schedule.csv, row 2: ", "\"six\""],
        ["schedule.csv, row 3: ", "found 3 values; expected 2"],
        ["schedule.csv, row 4: ", "\"-1\""],
        ["branch.csv, row 3: ", "first in row 2"],
        ["levels.csv, row 2: ", "\"east\""],
        ["levels.csv, row 3: ", "\"bad\""],
        ["levels.csv, row 3: ", "\"20\""],
        ["sections.csv, row 3: ", "\"new\""],
        ["idf.csv, row 2: ", "duration of \"0\""],
        ["idf.csv, row 3: ", "depth of \"\""],
        ["idf.csv, row 3: ", "no source"],
        ["creek.geojson", "\"Brook\""],
    ] {
        let names = |problem: &&String| words.iter().all(|word| problem.contains(word));
        assert!(problems.iter().any(|problem| names(&problem)), "no {words:?} in {problems:#?}");
    }
}

/// What cannot be read hides what refers to it; that is not reported as a fault of its own.
#[test]
fn a_fault_brings_no_others_with_it() {
    let levels = |case: &SmallCase| {
        case.edit("[roads]", "[[levels]]\nsource = \"levels.csv\"\n[roads]");
        case.write("levels.csv", "feature,x,y,kind,level_m,date,datum\nWC,400200,4850200,bed,101,2024,D\n");
    };
    // The schedule and the levels are of the creek.
    check(
        |case| {
            levels(case);
            case.layer("creek.geojson", &[]);
        },
        &["creek.geojson", "no features"],
    );
    check(
        |case| {
            levels(case);
            case.edit("[[waterways]]", "[[waterway]]");
        },
        &["key waterway: ", "did you mean waterways?"],
    );
    check(
        |case| {
            levels(case);
            case.edit("class_field = \"kind\"", "class_field = 7");
        },
        &["waterways[1].class_field: "],
    );
    // Tiled land drains to the main, whose class is of the profile.
    check(
        |case| case.edit("source = \"mains.geojson\"", "source = \"lost.geojson\""),
        &["pipes[1].source: ", "lost.geojson"],
    );
    check(
        |case| {
            case.edit("\"ontario\"", "\"ontaria\"");
            case.layer("creek.geojson", &[creek_called("a class of that profile")]);
        },
        &["rules.profile: ", "ontaria"],
    );
    check(
        |case| {
            case.elevation("elevation.tif", (0, 0), (40, 40), None);
            case.edit("vertical_unit", "vertical_units");
        },
        &["terrain.vertical_units: ", "did you mean vertical_unit?"],
    );
}

/// Where the elevation lies is known, so a fault of its unit hides no fault of the layers.
#[test]
fn faults_of_the_elevation_are_told_with_those_of_the_layers() {
    let check = |unit: Option<&str>, says: &str, expected: &str| {
        let case = SmallCase::sound();
        case.elevation("elevation.tif", (0, 0), (40, 40), unit);
        case.edit("vertical_unit = \"m\"\n", says);
        case.layer("tiled.geojson", &[polygon(json!({ "main": "T-9" }), (50.0, 150.0), (100.0, 160.0))]);
        let problems = refused(&case);
        assert_eq!(problems.len(), 2, "{problems:#?}");
        for word in [expected, "T-9"] {
            assert!(problems.iter().any(|problem| problem.contains(word)), "no {word:?} in {problems:#?}");
        }
    };
    check(None, "", "no vertical unit");
    check(Some("ft"), "vertical_unit = \"m\"\n", "heights in ft");
}
