//! The questions of the three users, each answered by one command on the demonstration case.
//!
//! Expected values are those of the plan of the invented township (`fallwright-demo`), or of its layers.

use fallwright::commands::watershed;
use fallwright::{MapPoint, Place};
use fallwright_demo::township;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::oxpindle::{cells, oxpindle};
use crate::results::{BUDGET, into, list, number, properties, read_json, silent, table, text, trace, trace_upstream};

fn traced(parcel: &str, upstream: bool) -> (Vec<String>, Vec<Value>) {
    let from = Place::Parcel(parcel.to_owned());
    let ask = if upstream { trace_upstream } else { trace };
    let (lines, features) = ask(&oxpindle().case, &from).unwrap();
    (lines, properties(&features))
}

/// Lot 5, concession III, east part of north half: "no waterway of its own, two neighbours in between".
#[test]
fn a_farmer_learns_whose_land_the_water_crosses_and_whom_to_ask() {
    let (lines, features) = traced("0527-030-005-00420", false);
    let main: Vec<&Value> =
        features.iter().filter(|feature| feature["kind"] == "crossing" && feature["share"] == 1).collect();
    let lands: Vec<(&str, &str)> =
        main.iter().map(|crossing| (text(crossing, "to_kind"), text(crossing, "to_id"))).collect();
    assert_eq!(lands, [("parcel", "0527-030-005-00410"), ("parcel", "0527-030-005-00300"), ("road", "R-2")]);
    assert_eq!((text(main[2], "to_name"), text(main[2], "to_authority")), ("Teasel Line", "County of Thrumbleby"));
    for crossing in &main {
        assert!(number(crossing, "metres_on_land") > 0.0 && number(crossing, "fall_m") > 0.0, "{crossing}");
    }
    assert_eq!(text(main[2], "carried_by"), "road_ditch");
    assert_eq!(text(main[2], "maintained_by"), "the road authority");
    assert!(text(main[2], "notified").starts_with("the road authority"));
    let path = features.iter().find(|feature| feature["kind"] == "path").unwrap();
    assert_eq!(text(path, "outlet_id"), "D-07");
    assert!(text(path, "outlet_maintained_by").starts_with("the municipality"), "{path}");
    let falls: f64 = main.iter().map(|crossing| number(crossing, "fall_m")).sum();
    assert!(falls <= number(path, "fall_m") + 0.05, "{falls} m on the lands, {path}");
    let words = lines.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Quernstone Drain"), "{lines:#?}");
    assert!(words.contains("Only a court decides a right"), "{lines:#?}");
}

/// The creek leaves lot 3 and goes under Sideroad 3/4 by the culvert C-01, as its line does.
#[test]
fn a_farmer_learns_whose_water_arrives_and_by_which_road() {
    let (lines, features) = traced("0527-020-004-00100", true);
    let giver = features.iter().find(|feature| feature["from_id"] == "0527-020-003-00200").expect("lot 3 lies above");
    let main = &list(giver, "ways")[0];
    assert_eq!(main["crosses_road"], true, "{giver}");
    assert!(list(main, "through").contains(&json!({ "kind": "structure", "id": "C-01" })), "{giver}");
    assert!(lines.iter().any(|line| line.contains("culvert C-01 under Sideroad 3")), "{lines:#?}");
}

fn watershed_of(at: (&Place, f64)) -> (TempDir, Vec<Value>) {
    let home = tempfile::tempdir().unwrap();
    watershed(&oxpindle().case, at, &into(&home.path().join("out")), &BUDGET, &silent).unwrap();
    let parts = properties(&read_json(&home.path().join("out/watershed.geojson")));
    (home, parts)
}

/// The schedule is that of the plan; what drains to the drain is what the main job counts through its lowest reach.
#[test]
fn an_engineer_learns_which_lands_the_schedule_lacks_and_the_reverse() {
    let (home, parts) = watershed_of((&Place::Outlet("D-07".to_owned()), 0.0));
    let lands = table(&home.path().join("out/watershed_lands.csv"));
    let schedule: std::collections::BTreeMap<String, f64> =
        township().schedule.iter().map(|row| (row.roll.clone(), row.hectares)).collect();
    let mut surface = 0;
    for land in &lands {
        let id = land["id"].as_str();
        let hectares = |column: &str| -> f64 { land[column].parse().unwrap() };
        surface += cells(hectares("surface_ha"));
        assert_eq!(land["assessed_ha"].parse().ok(), schedule.get(id).copied(), "{id}");
        let is_parcel = land["kind"] == "parcel";
        let expected = match (is_parcel, schedule.contains_key(id), hectares("drains_ha") > 0.0) {
            (false, ..) => "not_compared",
            (true, true, true) => "in_both",
            (true, true, false) => "not_in_watershed",
            (true, false, _) => "not_in_schedule",
        };
        assert_eq!(land["compared"], expected, "{id}");
        if let Some(assessed) = schedule.get(id) {
            let difference = hectares("measured_less_assessed_ha");
            assert!((difference - (hectares("drains_ha") - assessed)).abs() < 1e-6, "{id}: {difference}");
        }
    }
    assert_eq!(surface, cells(number(&parts[0], "surface_ha")));
    assert!(schedule.keys().all(|id| lands.iter().any(|land| land["id"] == *id)), "every land assessed is listed");
    // Lot 3, concession III: "not at all (east part of south half)", and it drains to the drain by way of its neighbour.
    let lacking: Vec<&str> =
        lands.iter().filter(|land| land["compared"] == "not_in_schedule").map(|land| land["id"].as_str()).collect();
    assert!(lacking.contains(&"0527-030-003-00520"), "{lacking:?}");
}

/// Of a point on the drain: what lies above it and what joins below make up the drain's whole watershed.
#[test]
fn an_authority_learns_what_drains_to_a_drain_above_and_below_a_point() {
    let (_home, whole) = watershed_of((&Place::Outlet("D-07".to_owned()), 0.0));
    let drain = township().waterways.into_iter().find(|waterway| waterway.id == "D-07").unwrap();
    let line = &drain.lines.0[0].0;
    let middle = line[line.len() / 2];
    let at = MapPoint { x: middle.x, y: middle.y, lonlat: false };
    let (home, parts) = watershed_of((&Place::Point(at), 5.0));
    assert_eq!(parts.len(), 2, "{parts:?}");
    assert_eq!((text(&parts[0], "part"), text(&parts[1], "part")), ("whole", "downstream"));
    let [above, below] = [0, 1].map(|part| cells(number(&parts[part], "surface_ha")));
    assert!(above > 0 && below > 0, "{parts:?}");
    assert_eq!(above + below, cells(number(&whole[0], "surface_ha")));
    for (part, expected) in [("upstream", above), ("downstream", below)] {
        let rows = table(&home.path().join("out/watershed_parcels.csv"));
        let of_part = rows.iter().filter(|row| row["part"] == part);
        let sum: i64 = of_part.map(|row| cells(row["surface_ha"].parse().unwrap())).sum();
        assert_eq!(sum, expected, "{part}");
    }
}
