//! A petition on the demonstration case: all its files, what is refused, and that it is counted as by hand.

use std::fs;
use std::path::{Path, PathBuf};

use fallwright::commands::{AreaAsked, PetitionAsked, PetitionDone, petition};
use fallwright::{Error, RaisedBy};
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::oxpindle::oxpindle;
use crate::results::{BUDGET, into, number, properties, read_json, silent, text};

/// A lot of one owner, as the generator of the case draws it.
const LOT: &str = "0527-010-004-00200";

/// An area in a file of its own, and the folder for the results.
struct Asked {
    home: TempDir,
    asked: PetitionAsked,
}

impl Asked {
    fn over(geometry: &Value) -> Self {
        let home = tempfile::tempdir().unwrap();
        let area = home.path().join("area.geojson");
        let feature = json!({ "type": "Feature", "properties": {}, "geometry": geometry });
        fs::write(&area, json!({ "type": "FeatureCollection", "features": [feature] }).to_string()).unwrap();
        let asked = PetitionAsked {
            area: AreaAsked::File(area),
            signed: None,
            add: None,
            withdraw: None,
            raised_by: RaisedBy::Petition,
            outlet: None,
            stage: "filing".to_owned(),
            earlier: Vec::new(),
            run_date: "2026-06-01".to_owned(),
            paper: fallwright::Paper::default(),
            fonts: Vec::new(),
        };
        Self { home, asked }
    }

    fn out(&self) -> PathBuf {
        self.home.path().join("out")
    }

    fn run(&self) -> Result<PetitionDone, Error> {
        petition(&oxpindle().case, &self.asked, &into(&self.out()), &BUDGET, &silent)
    }

    fn record(&self) -> Value {
        self.run().map_err(|error| error.to_string()).unwrap();
        read_json(&self.out().join("petition.json"))
    }

    fn refused(&self) -> Vec<String> {
        let Err(Error::Refused(problems)) = self.run() else { panic!("not refused") };
        assert!(!self.out().exists() || fs::read_dir(self.out()).unwrap().next().is_none());
        problems.iter().map(ToString::to_string).collect()
    }
}

/// The shape of a parcel in longitude and latitude.
fn shape_of(parcel: &str) -> Value {
    let layer = read_json(&oxpindle().out.join("parcels.geojson"));
    let features = layer["features"].as_array().unwrap();
    let feature = features.iter().find(|feature| feature["properties"]["parcel_id"] == parcel).unwrap();
    feature["geometry"].clone()
}

fn ids(out: &Path) -> Vec<String> {
    let layer = properties(&read_json(&out.join("petition.geojson")));
    layer.iter().map(|land| land["parcel_id"].as_str().or(land["road_id"].as_str()).unwrap().to_owned()).collect()
}

/// One owner may petition: the area can be a single lot. Its neighbours touch it by the rounding of longitude and latitude alone.
#[test]
fn a_lot_of_one_owner_is_an_area_of_its_own() {
    let mut asked = Asked::over(&shape_of(LOT));
    let without = asked.record();
    assert_eq!((text(&without, "verdict"), &without["smallest_to_pass"]["count"]), ("not_valid", &json!(1)));
    assert_eq!(ids(&asked.out()), [LOT]);
    asked.asked.signed = Some(LOT.to_owned());
    asked.asked.earlier = vec![asked.home.path().join("earlier.json")];
    fs::copy(asked.out().join("petition.json"), &asked.asked.earlier[0]).unwrap();
    fs::remove_dir_all(asked.out()).unwrap();
    let with = asked.record();
    assert_eq!(
        (text(&with, "verdict"), text(&with, "with_roads"), text(&with, "without_roads")),
        ("valid", "valid", "valid")
    );
    for test in with["tests"].as_array().unwrap() {
        assert_eq!(number(test, "have"), number(test, "of"), "{test}");
    }
    assert_eq!(with["earlier"][0]["verdict"], json!("not_valid"));
    for file in
        ["petition.csv", "petition_tests.csv", "signatures.csv", "petition.xlsx", "petition.svg", "petition.pdf"]
    {
        assert!(asked.out().join(file).is_file(), "{file}");
    }
    let tests = fs::read_to_string(asked.out().join("petition_tests.csv")).unwrap();
    assert_eq!(tests.lines().count(), 1 + 2 * with["tests"].as_array().unwrap().len());
}

#[test]
fn an_owner_who_withdraws_has_not_signed() {
    let mut asked = Asked::over(&shape_of(LOT));
    asked.asked.signed = Some(LOT.to_owned());
    asked.asked.withdraw = Some(LOT.to_owned());
    assert_eq!(text(&asked.record(), "verdict"), "not_valid");
}

#[test]
fn every_fault_is_named_at_once() {
    let mut asked = Asked::over(
        &json!({ "type": "Polygon", "coordinates": [[[-82.2, 43.8], [-82.1, 43.9], [-82.1, 43.8], [-82.2, 43.9], [-82.2, 43.8]]] }),
    );
    asked.asked.signed = Some(format!("{LOT}x,nobody"));
    asked.asked.earlier = vec![asked.home.path().join("absent.json")];
    let problems = asked.refused();
    for part in
        ["area.geojson", "x\", which nothing in the case has", "\"nobody\", which", "absent.json: found no such file"]
    {
        assert!(problems.iter().any(|problem| problem.contains(part)), "no {part:?} in {problems:#?}");
    }
}

#[test]
fn an_area_beside_all_lands_is_refused() {
    let asked = Asked::over(
        &json!({ "type": "Polygon", "coordinates": [[[-80.0, 45.0], [-79.9, 45.0], [-79.9, 45.1], [-80.0, 45.0]]] }),
    );
    let problems = asked.refused();
    assert!(problems[0].contains("holds no part of a parcel or road"), "{problems:#?}");
    let line = Asked::over(&json!({ "type": "LineString", "coordinates": [[-82.2, 43.8], [-82.1, 43.9]] }));
    assert!(line.refused()[0].contains("found a line"));
}

/// A proposed area, here of all parcels without an outlet, is one that can be given back: the same lands lie in it, and each is described.
#[test]
fn a_proposed_area_can_be_given_back() {
    let findings = properties(&read_json(&oxpindle().out.join("parcels.geojson")));
    let without: Vec<&str> = findings
        .iter()
        .filter(|parcel| text(parcel, "standing") == "acquire")
        .map(|parcel| text(parcel, "parcel_id"))
        .collect();
    let mut asked = Asked::over(&shape_of(LOT));
    let drawn = asked.asked.area.clone();
    asked.asked.area = AreaAsked::Suggested(without.iter().map(|&id| id.to_owned()).collect());
    asked.asked.signed = Some(without.join(","));
    let proposed = asked.record();
    let suggested = &proposed["suggested"];
    let lands: Vec<String> =
        suggested["lands"].as_array().unwrap().iter().map(|land| text(land, "id").to_owned()).collect();
    for id in without {
        assert!(lands.iter().any(|land| land == id), "{id} in {lands:?}");
        assert!(text(suggested, "description").contains(id));
    }
    assert_eq!(text(&proposed["own_land"], "verdict"), "valid");
    let mut inside = ids(&asked.out());
    assert_eq!(inside.len(), lands.len(), "{inside:?} {lands:?}");

    let AreaAsked::File(drawn) = drawn else { panic!("an area in a file") };
    fs::copy(asked.out().join("area.geojson"), &drawn).unwrap();
    fs::remove_dir_all(asked.out()).unwrap();
    asked.asked.area = AreaAsked::File(drawn);
    let given = asked.record();
    assert_eq!(given["suggested"], Value::Null);
    inside.sort();
    let mut again = ids(&asked.out());
    again.sort();
    assert_eq!(again, inside);
    assert!((number(&given, "area_ha") - number(&proposed, "area_ha")).abs() < 0.01);
}

#[test]
fn land_with_a_right_that_is_dry_has_no_area_to_propose() {
    let findings = properties(&read_json(&oxpindle().out.join("parcels.geojson")));
    let has_right = |parcel: &&Value| text(parcel, "standing") == "right";
    let refused = findings.iter().filter(has_right).any(|parcel| {
        let mut asked = Asked::over(&shape_of(LOT));
        asked.asked.area = AreaAsked::Suggested(vec![text(parcel, "parcel_id").to_owned()]);
        asked.run().err().is_some_and(|error| error.to_string().contains("no area to propose"))
    });
    assert!(refused);
}

#[test]
fn parcels_that_nothing_has_are_refused() {
    let mut asked = Asked::over(&shape_of(LOT));
    asked.asked.area = AreaAsked::Suggested(vec![format!("{LOT}x")]);
    assert!(asked.run().err().unwrap().to_string().contains("no parcel has the id"));
}
