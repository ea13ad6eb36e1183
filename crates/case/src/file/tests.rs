use std::fs;

use fallwright_geodata::{At, Resampling};
use fallwright_units::VerticalUnit;

use super::*;

const FILES: [&str; 21] = [
    "dem/west.tif",
    "dem/east.tif",
    "potholes.geojson",
    "parcels.gpkg",
    "fields.geojson",
    "drains.geojson",
    "creek.geojson",
    "pipes.geojson",
    "culverts.geojson",
    "tiled.geojson",
    "schedule.csv",
    "elm_drain_schedule.csv",
    "own_defaults.toml",
    "roads.geojson",
    "sections.csv",
    "levels.csv",
    "regulated.geojson",
    "idf.csv",
    "soils.geojson",
    "rules.toml",
    "dem.tif",
];

const DEM: &str = "[terrain]\nelevation = [\"dem.tif\"]\n";

/// Reads a case whose folder holds [`FILES`].
fn read(text: impl AsRef<[u8]>) -> Result<CaseFile, Vec<Problem>> {
    let home = tempfile::tempdir().unwrap();
    fs::create_dir(home.path().join("dem")).unwrap();
    for file in FILES {
        fs::write(home.path().join(file), "").unwrap();
    }
    let path = home.path().join("case.toml");
    fs::write(&path, text).unwrap();
    CaseFile::read(&path)
}

/// Key, found and hint of every problem.
fn check(text: impl AsRef<[u8]>, expected: &[(&str, &str, &str)]) {
    let problems = read(text).map_or_else(|problems| problems, |_| Vec::new());
    let brief: Vec<_> = problems.iter().map(|p| (key(p), p.found.as_str(), p.hint.as_str())).collect();
    assert_eq!(brief, expected);
    assert!(problems.iter().all(|problem| problem.file.ends_with("case.toml")), "{problems:?}");
    assert!(!problems.iter().any(|problem| problem.expected.contains(char::is_control)), "{problems:?}");
}

fn key(problem: &Problem) -> &str {
    match &problem.at {
        Some(At::Key(key)) => key,
        other => panic!("not at a key but at {other:?}: {problem}"),
    }
}

/// As [`check`], below a `[terrain]` table without fault.
fn check_after_dem(text: &str, expected: &[(&str, &str, &str)]) {
    check(format!("{DEM}{text}"), expected);
}

#[test]
fn every_key_of_the_contract_is_taken() {
    let case = read(crate::page::EXAMPLE).unwrap();
    assert_eq!(case.crs.as_deref(), Some("EPSG:26917"));
    let names: Vec<_> = case.terrain.elevation.iter().map(|path| path.file_name().unwrap()).collect();
    assert_eq!(names, ["east.tif", "west.tif"]);
    assert_eq!(case.terrain.elevation_given, ["dem/*.tif"]);
    assert_eq!(case.terrain.vertical_unit, Some(VerticalUnit::UsSurveyFoot));
    assert_eq!(case.terrain.longest_cut_m, 40.0);
    let warp = case.terrain.warp.unwrap();
    assert_eq!((warp.crs.as_str(), warp.cell_m, warp.method), ("EPSG:26915", 100.0, Resampling::Bilinear));
    let parcels = case.parcels.unwrap();
    assert_eq!(parcels.source.given, "parcels.gpkg");
    assert!(parcels.source.path.is_absolute());
    assert_eq!((parcels.id.as_str(), parcels.accuracy_m), ("roll", 1.0));
    assert_eq!(case.waterways[0].class, WaterwayClass::Named("municipal_drain".to_owned()));
    assert_eq!(case.waterways[1].class, WaterwayClass::Field("kind".to_owned()));
    assert_eq!(case.waterways[1].class_map.key, "waterways[2].class_map");
    assert_eq!(case.waterways[1].class_map.classes["MD"], "municipal_drain");
    assert_eq!(case.pipes[0].class, "kind");
    assert_eq!(case.pipes[0].class_map.classes["Tile"], "private_tile");
    assert_eq!(case.culverts[0].invert_down_m, "down");
    let schedule = &case.schedules[0];
    assert_eq!((schedule.drain.as_str(), schedule.hectares.as_str()), ("D-07", "area"));
    assert_eq!((schedule.unit, schedule.dated), (AreaUnit::Acre, Some("1998-06-15".parse().unwrap())));
    assert_eq!(case.capacity.pond_percent, 1.0);
    let roads = case.roads.unwrap();
    assert_eq!([roads.id, roads.name, roads.authority].map(Option::unwrap), ["road_id", "name", "owner"]);
    assert_eq!(case.rules, Rules { profile: Profile::Shipped("ontario".to_owned()), abut_tolerance_m: 1.5 });
}

#[test]
fn what_the_case_leaves_out_has_its_stated_default() {
    let case = read(format!(
        "{DEM}[parcels]\nsource = \"parcels.gpkg\"\nid = \"roll\"\n[[pipes]]\nsource = \"pipes.geojson\"\n\
         [[waterways]]\nsource = \"creek.geojson\"\nclass = \"natural_watercourse\"\n"
    ))
    .unwrap();
    assert_eq!((case.terrain.longest_cut_m, case.terrain.deepest_cut_m), (60.0, 3.0));
    assert_eq!(case.parcels.unwrap().accuracy_m, 2.0);
    assert_eq!(case.pipes[0].diameter_mm, "diameter_mm");
    assert_eq!(case.waterways[0].id, "id");
    assert_eq!(case.rules, Rules { profile: Profile::Shipped("ontario".to_owned()), abut_tolerance_m: 2.0 });
    assert!(case.roads.is_none() && case.culverts.is_empty());
}

#[test]
fn the_digest_is_that_of_the_bytes() {
    // `printf '[terrain]\nelevation = ["dem.tif"]\n' | sha256sum` (GNU coreutils).
    assert_eq!(read(DEM).unwrap().sha256, "2f55e12aedd7d6d156962b308b2240dc9ee11b6d5d38ac0c4b9a06cf7a2b3b91");
}

#[test]
fn unknown_keys_are_all_named_with_the_nearest_known_one() {
    check(
        "naem = \"x\"\n[terain]\n[terrain]\nelevation = [\"dem.tif\"]\nvertical_units = \"m\"\n\
         [parcels]\nsource = \"parcels.gpkg\"\nid = \"roll\"\nownr = \"owner\"\nlanduse = \"use\"\n",
        &[
            ("terrain.vertical_units", "an unknown key", "did you mean vertical_unit?"),
            ("parcels.landuse", "an unknown key", "did you mean land_use?"),
            ("parcels.ownr", "an unknown key", "did you mean owner?"),
            ("naem", "an unknown key", "did you mean name?"),
            ("terain", "an unknown key", "did you mean terrain?"),
        ],
    );
}

#[test]
fn missing_keys_are_all_named() {
    check(
        "[parcels]\n[fields]\n[tiled_areas]\n[[schedules]]\n[[constraints]]\n[roads]\n",
        &[
            ("terrain.elevation", "no such key", "add elevation = [\"...\"], relative to the case file"),
            ("parcels.source", "no such key", "add source = \"...\", relative to the case file"),
            ("parcels.id", "no such key", "add id = \"...\""),
            ("fields.source", "no such key", "add source = \"...\", relative to the case file"),
            ("fields.id", "no such key", "add id = \"...\""),
            ("fields.parcel", "no such key", "add parcel = \"...\""),
            ("tiled_areas.source", "no such key", "add source = \"...\", relative to the case file"),
            ("tiled_areas.pipe", "no such key", "add pipe = \"...\""),
            ("schedules[1].source", "no such key", "add source = \"...\", relative to the case file"),
            ("schedules[1].drain", "no such key", "add drain = \"...\""),
            ("schedules[1].parcel", "no such key", "add parcel = \"...\""),
            ("schedules[1].hectares", "no such key", "add hectares = \"...\""),
            ("roads.source", "no such key", "add source = \"...\", relative to the case file"),
            ("constraints[1].source", "no such key", "add source = \"...\", relative to the case file"),
            ("constraints[1].kind", "no such key", "add kind = \"...\""),
        ],
    );
}

#[test]
fn an_empty_file_lacks_its_elevation() {
    let hint = "add elevation = [\"...\"], relative to the case file";
    check("", &[("terrain.elevation", "no such key", hint)]);
    check(
        "terrain = 3",
        &[
            ("terrain", "the number 3", "write [terrain] on a line of its own and its keys below"),
            ("terrain.elevation", "no such key", hint),
        ],
    );
}

#[test]
fn numbers_out_of_range_and_wrong_types_are_all_named() {
    let correct = "correct the number";
    check(
        "name = 4\n[terrain]\nelevation = [\"dem.tif\"]\nrmse_z_m = -0.1\nlongest_cut_m = nan\ndeepest_cut_m = inf\n\
         flown = 2022-04-01\nwarp = { crs = true, cell_m = 0, method = \"linear\" }\n\
         [rules]\nabut_tolerance_m = \"2\"\nprofile = [\"ontario\"]\n",
        &[
            ("name", "the number 4", "write name = \"4\""),
            ("terrain.flown", "the date 2022-04-01", "write flown = \"2022-04-01\""),
            ("terrain.rmse_z_m", "-0.1", correct),
            ("terrain.longest_cut_m", "nan", correct),
            ("terrain.deepest_cut_m", "inf", correct),
            ("terrain.warp.crs", "true", "write crs = \"true\""),
            ("terrain.warp.cell_m", "0", correct),
            ("terrain.warp.method", "\"linear\"", "did you mean \"bilinear\"?"),
            ("rules.profile", "a list of 1", "write profile = \"...\""),
            ("rules.abut_tolerance_m", "the text \"2\"", "write abut_tolerance_m = 2 without quotes"),
        ],
    );
}

#[test]
fn a_warp_says_everything() {
    check(
        "[terrain]\nelevation = [\"dem.tif\"]\nwarp = {}\n",
        &[
            ("terrain.warp.crs", "no such key", "add crs = \"...\""),
            ("terrain.warp.cell_m", "no such key", "add cell_m = ..."),
            ("terrain.warp.method", "no such key", "add method = \"...\""),
        ],
    );
}

#[test]
fn a_vertical_unit_is_one_of_three() {
    let check = |unit: &str, hint: &str| {
        let found = format!("\"{unit}\"");
        super::tests::check(
            format!("[terrain]\nelevation = [\"dem.tif\"]\nvertical_unit = \"{unit}\"\n"),
            &[("terrain.vertical_unit", &found, hint)],
        );
    };
    check("metre", "did you mean \"m\"?");
    check("feet", "did you mean \"ft\"?");
    check("us-feet", "did you mean \"us-ft\"?");
}

#[test]
fn elevation_is_a_list_of_files_that_exist() {
    let missing = "correct the path, which is relative to the case file, or put the file there";
    let check = |elevation: &str, key: &str, found: &str, hint: &str| {
        super::tests::check(format!("[terrain]\nelevation = {elevation}\n"), &[(key, found, hint)]);
    };
    check("\"dem.tif\"", "terrain.elevation", "the text \"dem.tif\"", "write elevation = [\"dem.tif\"]");
    check("[]", "terrain.elevation", "a list of 0", "write elevation = [\"...\"]");
    check("[3, \"dem.tif\"]", "terrain.elevation[1]", "the number 3", "name the file");
    check("[\"dem.tif\", \"no.tif\"]", "terrain.elevation[2]", "\"no.tif\", which does not exist", missing);
    let unmatched = "correct the pattern, which is relative to the case file";
    check("[\"tiles/*.tif\"]", "terrain.elevation[1]", "\"tiles/*.tif\", which matches no file", unmatched);
}

#[test]
fn a_file_named_twice_is_taken_once() {
    let case = read("[terrain]\nelevation = [\"dem/west.tif\", \"dem/*.tif\"]\n").unwrap();
    let names: Vec<_> = case.terrain.elevation.iter().map(|path| path.file_name().unwrap()).collect();
    assert_eq!(names, ["west.tif", "east.tif"]);
}

#[test]
fn missing_files_of_all_layers_are_named() {
    let hint = "correct the path, which is relative to the case file, or put the file there";
    check(
        "[terrain]\nelevation = [\"a.tif\"]\nkeep_depressions = \"b.geojson\"\n[parcels]\nsource = \"c.gpkg\"\nid = \"id\"\n\
         [[waterways]]\nsource = \"creek.geojson\"\nclass = \"natural_watercourse\"\n\
         [[waterways]]\nsource = \"d.geojson\"\nclass = \"natural_watercourse\"\n[rules]\nprofile = \"own/e.toml\"\n",
        &[
            ("terrain.elevation[1]", "\"a.tif\", which does not exist", hint),
            ("terrain.keep_depressions", "\"b.geojson\", which does not exist", hint),
            ("parcels.source", "\"c.gpkg\", which does not exist", hint),
            ("waterways[2].source", "\"d.geojson\", which does not exist", hint),
            ("rules.profile", "\"own/e.toml\", which does not exist", hint),
        ],
    );
}

#[test]
fn kept_depressions_are_a_path_or_a_layer() {
    let kept = |value: &str| {
        let terrain = read(format!("{DEM}keep_depressions = {value}\n")).unwrap().terrain;
        let kept = terrain.keep_depressions.unwrap();
        (kept.source.given, kept.source.repair, kept.layer)
    };
    assert_eq!(kept("\"creek.geojson\""), ("creek.geojson".to_owned(), false, None));
    let layer = "{ source = \"parcels.gpkg\", layer = \"lakes\", repair = true }";
    assert_eq!(kept(layer), ("parcels.gpkg".to_owned(), true, Some("lakes".to_owned())));
    let at = |value: &str, key: &str, found: &str, hint: &str| {
        check(format!("{DEM}keep_depressions = {value}\n"), &[(key, found, hint)]);
    };
    let hint = "write keep_depressions = \"...\", or keep_depressions = { source = \"...\", layer = \"...\" }";
    at("true", "terrain.keep_depressions", "true", hint);
    let given = "{ source = \"parcels.gpkg\", repair = \"yes\" }";
    at(given, "terrain.keep_depressions.repair", "the text \"yes\"", "write repair = true");
}

#[test]
fn a_profile_may_be_a_file() {
    let case = read(format!("{DEM}[rules]\nprofile = \"rules.toml\"\n")).unwrap();
    assert!(matches!(case.rules.profile, Profile::File(source) if source.given == "rules.toml"));
}

#[test]
fn a_waterway_layer_has_one_source_of_classes() {
    let hint =
        "give class = \"...\" for the whole layer, or class_field = \"...\", the field that holds each feature's class";
    let source = "[[waterways]]\nsource = \"creek.geojson\"\n";
    check_after_dem(source, &[("waterways[1].class", "neither class nor class_field", hint)]);
    check_after_dem(
        &format!("{source}class = \"municipal_drain\"\nclass_field = \"kind\"\n"),
        &[("waterways[1].class", "both class and class_field", hint)],
    );
}

#[test]
fn brackets_single_or_double() {
    check_after_dem(
        "[waterways]\nsource = \"creek.geojson\"\nclass = \"natural_watercourse\"\n",
        &[("waterways", "a table", "write [[waterways]] in double brackets")],
    );
    check_after_dem(
        "[[roads]]\nsource = \"roads.geojson\"\n",
        &[("roads", "a list of 1", "write [roads] in single brackets")],
    );
    check_after_dem(
        "[[soils]]\n[[soils]]\n",
        &[("soils", "a list of 2", "keep one of them, under [soils] in single brackets")],
    );
}

#[test]
fn a_text_is_not_empty() {
    check_after_dem(
        "[roads]\nsource = \"roads.geojson\"\nlayer = \" \"\n",
        &[("roads.layer", "an empty text", "fill it in or leave the key out")],
    );
}

#[test]
fn control_characters_are_escaped_in_messages() {
    let missing = "correct the path, which is relative to the case file, or put the file there";
    check_after_dem(
        "[roads]\nsource = \"a\\u001b[2J\"\n\"\\u0007x\" = 1\n",
        &[
            ("roads.source", r#""a\u{1b}[2J", which does not exist"#, missing),
            (r"roads.\u{7}x", "an unknown key", "did you mean id?"),
        ],
    );
}

#[test]
fn words_of_a_class_map_are_texts_that_differ() {
    let check = |map: &str, expected: &[(&str, &str, &str)]| {
        check_after_dem(
            &format!("[[waterways]]\nsource = \"creek.geojson\"\nclass_field = \"kind\"\nclass_map = {map}\n"),
            expected,
        );
    };
    let key = "waterways[1].class_map";
    check("{ \"MD\" = \"municipal_drain\", \"RD\" = \"road_ditch\" }", &[]);
    let hint = "keep one of them; it holds for every spelling";
    check("{ \"M D\" = \"road_ditch\", \"m_d\" = \"road_ditch\" }", &[(key, "\"M D\" and \"m_d\"", hint)]);
    let hint = "correct the pair or leave it out";
    check("{ \"MD\" = 3, \"RD\" = \"\" }", &[(key, "\"MD\" = 3", hint), (key, "\"RD\" = \"\"", hint)]);
    check("\"MD\"", &[(key, "the text \"MD\"", "write class_map = { \"...\" = \"...\" }")]);
}

#[test]
fn a_class_map_explains_a_field() {
    check_after_dem(
        "[[waterways]]\nsource = \"creek.geojson\"\nclass = \"road_ditch\"\nclass_map = { \"MD\" = \"municipal_drain\" }\n",
        &[(
            "waterways[1].class_map",
            "class_map without class_field",
            "name the field whose values it explains, or leave class_map out",
        )],
    );
}

#[test]
fn units_and_other_words_are_taken_in_any_spelling() {
    let unit = |unit: &str| read(format!("{DEM}vertical_unit = \"{unit}\"\n")).unwrap().terrain.vertical_unit;
    assert_eq!(unit("US ft"), Some(VerticalUnit::UsSurveyFoot));
    assert_eq!(unit("FT"), Some(VerticalUnit::InternationalFoot));
    let schedule = "[[schedules]]\nsource = \"schedule.csv\"\ndrain = \"D\"\nparcel = \"roll\"\nhectares = \"ha\"\n";
    let unit = |unit: &str| read(format!("{DEM}{schedule}{unit}")).unwrap().schedules[0].unit;
    assert_eq!(unit(""), AreaUnit::Hectare);
    assert_eq!(unit("unit = \"HA\"\n"), AreaUnit::Hectare);
    assert_eq!(unit("unit = \"Ac\"\n"), AreaUnit::Acre);
    check_after_dem(
        &format!("{schedule}unit = \"acres\"\n"),
        &[("schedules[1].unit", "\"acres\"", "did you mean \"ac\"?")],
    );
}

#[test]
fn a_schedule_says_when_and_for_what() {
    let check = |keys: &str, expected: &[(&str, &str, &str)]| {
        let schedule =
            "[[schedules]]\nsource = \"schedule.csv\"\ndrain = \"D\"\nparcel = \"roll\"\nhectares = \"ha\"\n";
        check_after_dem(&format!("{schedule}{keys}"), expected);
    };
    check("dated = \"1998\"\noutlet = \"out\"\nbenefit = \"ben\"\n", &[]);
    let hint = "correct the date or leave the key out";
    check("dated = \"June 1998\"\n", &[("schedules[1].dated", "the date \"June 1998\"", hint)]);
    let hint = "name the column of the amounts for outlet too, which decides, or leave benefit out";
    check("benefit = \"ben\"\n", &[("schedules[1].benefit", "benefit without outlet", hint)]);
}

/// The faults are those of the case alone; what they leave readable is kept.
#[test]
fn a_table_with_a_fault_is_left_out_and_the_others_are_kept() {
    let home = tempfile::tempdir().unwrap();
    for file in ["dem.tif", "creek.geojson", "parcels.gpkg", "roads.geojson"] {
        fs::write(home.path().join(file), "").unwrap();
    }
    let path = home.path().join("case.toml");
    let layer = |class: &str| format!("[[waterways]]\nsource = \"creek.geojson\"\n{class}\n");
    let (sound, faulty) = (layer("class = \"road_ditch\""), layer("class_field = 3"));
    let parcels = "[parcels]\nsource = \"parcels.gpkg\"\nid = \"roll\"\nownr = \"owner\"\n";
    let roads = "[roads]\nsource = \"lost.geojson\"\n";
    fs::write(&path, format!("{DEM}{faulty}{sound}{parcels}{roads}")).unwrap();
    let draft = Draft::read(&path).unwrap();
    assert_eq!(draft.problems.len(), 3, "{:?}", draft.problems);
    assert_eq!(draft.case.waterways.len(), 1);
    assert_eq!(draft.case.waterways[0].key, "waterways[2]");
    assert!(draft.case.parcels.is_some() && draft.case.roads.is_none());
    let check = |key: &str, expected: bool| assert_eq!(draft.doubts(&[key]), expected, "{key}");
    check("waterways", true);
    check("waterways.class_field", true);
    check("waterways.id", false);
    check("parcels", false);
    check("parcels.owner", true);
    check("roads", true);
    check("terrain", false);
}

#[test]
fn an_id_is_text() {
    check_after_dem(
        "[[schedules]]\nsource = \"schedule.csv\"\ndrain = 7\nparcel = \"roll\"\nhectares = \"ha\"\n",
        &[("schedules[1].drain", "the number 7", "write drain = \"7\"")],
    );
}

#[test]
fn faults_of_syntax_say_their_lines() {
    let problems = read("name = \"x\"\n[terrain]\nelevation = dem.tif\n[rules]\nprofile = ontario\n").unwrap_err();
    let lines: Vec<_> = problems.iter().map(|problem| problem.at.clone()).collect();
    assert_eq!(lines, [Some(At::Line(3)), Some(At::Line(5))], "{problems:?}");
}

#[test]
fn a_file_that_is_no_case_is_refused() {
    let check = |path: &Path, found: &str| {
        let problems = CaseFile::read(path).unwrap_err();
        assert_eq!(problems.len(), 1);
        assert!(problems[0].found.contains(found), "{problems:?}");
        assert_eq!(problems[0].file, path.display().to_string());
    };
    let home = tempfile::tempdir().unwrap();
    let large = home.path().join("dem.tif");
    fs::write(&large, vec![b' '; LARGEST_CASE_BYTES as usize + 1]).unwrap();
    let binary = home.path().join("case.toml");
    fs::write(&binary, [b'a', 0xff]).unwrap();
    check(home.path(), "a folder");
    check(&home.path().join("none.toml"), "No such file");
    check(&large, "more than 1048576 bytes");
    check(&binary, "offset 1");
}

/// Reading a pipe that nobody writes to never ends.
#[cfg(unix)]
#[test]
fn a_pipe_is_no_case_file() {
    let home = tempfile::tempdir().unwrap();
    let pipe = home.path().join("case.toml");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let problems = CaseFile::read(&pipe).unwrap_err();
    assert!(problems[0].found.starts_with("a pipe"), "{problems:?}");
}

#[test]
fn numbers_beyond_any_use_are_refused() {
    const ELEVATION: &str = "[terrain]\nelevation = [\"dem.tif\"]\n";
    for (table, key) in [("terrain", "longest_cut_m"), ("terrain", "rmse_z_m"), ("rules", "abut_tolerance_m")] {
        for value in ["1e300", "inf", "nan", "-0.1"] {
            let head = if table == "terrain" { String::new() } else { format!("[{table}]\n") };
            let problems = read(format!("{ELEVATION}{head}{key} = {value}\n")).unwrap_err();
            assert_eq!(problems.len(), 1, "{problems:?}");
            assert_eq!(problems[0].at, Some(At::Key(format!("{table}.{key}"))), "{value}");
            assert_eq!(problems[0].found, value);
        }
    }
}
