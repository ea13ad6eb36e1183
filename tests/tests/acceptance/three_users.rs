//! The questions of the three users, each answered by one command on the demonstration case.
//!
//! Expected values are those of the plan of the invented township (`fallwright-demo`), or of its layers.

use fallwright::{TraceFrom, trace};
use serde_json::Value;

use crate::results::{SETTINGS, list, number, properties, silent, text, texts};
use crate::tarnbeck::tarnbeck;

fn traced(parcel: &str, upstream: bool) -> (Vec<String>, Vec<Value>) {
    let from = TraceFrom::Parcel(parcel.to_owned());
    let report = trace(&tarnbeck().case, &from, upstream, &SETTINGS, &silent).unwrap();
    (report.lines(), properties(&report.json()))
}

/// Lot 5, concession III, east part of north half: "no waterway of its own, two neighbours in between".
#[test]
fn a_farmer_learns_whose_land_the_water_crosses_and_whom_to_ask() {
    let (lines, features) = traced("0527-030-005-00420", false);
    let main: Vec<&Value> =
        features.iter().filter(|feature| feature["kind"] == "crossing" && feature["share"] == 1).collect();
    let lands: Vec<&str> = main.iter().map(|crossing| text(crossing, "to")).collect();
    assert_eq!(lands, ["0527-030-005-00410", "0527-030-005-00300", "road"]);
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
    assert!(lines.iter().any(|line| line.contains("Quernstone Drain")), "{lines:#?}");
    assert!(lines.last().unwrap().contains("Only a court decides a right"), "{lines:#?}");
}

/// The creek leaves lot 3 and goes under Sideroad 3/4 by the culvert C-01, as its line does.
#[test]
fn a_farmer_learns_whose_water_arrives_and_by_which_road() {
    let (lines, features) = traced("0527-020-004-00100", true);
    let giver = features.iter().find(|feature| feature["parcel_id"] == "0527-020-003-00200").expect("lot 3 lies above");
    let main = &list(giver, "ways")[0];
    assert_eq!(main["crosses_road"], true, "{giver}");
    assert!(texts(main, "through").contains(&"C-01"), "{giver}");
    assert!(lines.iter().any(|line| line.contains("culvert C-01 under a road")), "{lines:#?}");
}
