//! Whose right: profiles, schedules, agreements, ways, pipes and split fields, end to end.

use std::collections::BTreeMap;

use fallwright::commands::outlets;
use serde_json::{Value, json};

use crate::oxpindle::oxpindle;
use crate::results::{BUDGET, into, list, number, properties, read_json, silent, sum, text, texts};
use crate::small_case::{SmallCase, line, polygon};

fn run(case: &SmallCase) -> Vec<Value> {
    case.run().unwrap_or_else(|failure| panic!("{failure}"));
    properties(&read_json(&case.path("out/parcels.geojson")))
}

/// Number of parcels with each standing, and parcels by id.
type Standings = (BTreeMap<String, usize>, BTreeMap<String, Value>);

/// The demonstration case under another profile.
fn under(profile: &str) -> Standings {
    let folder = tempfile::tempdir().unwrap();
    fallwright_demo::write_case(folder.path(), true).unwrap();
    let file = folder.path().join("case.toml");
    let case = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, case.replace("profile = \"ontario\"", &format!("profile = \"{profile}\""))).unwrap();
    let out = folder.path().join("out");
    outlets(&file, &into(&out), fallwright::OutletsExtras::default(), &BUDGET, &silent).unwrap();
    counted(properties(&read_json(&out.join("parcels.geojson"))).into_iter())
}

fn counted(parcels: impl Iterator<Item = Value>) -> Standings {
    let parcels: BTreeMap<String, Value> =
        parcels.map(|parcel| (text(&parcel, "parcel_id").to_owned(), parcel)).collect();
    let mut standings = BTreeMap::new();
    for parcel in parcels.values() {
        *standings.entry(text(parcel, "standing").to_owned()).or_default() += 1;
    }
    (standings, parcels)
}

/// Natural flow gives rights to land behind others; where every work needs an approval, which the demonstration supplies
/// for the agreement drains only, hardly any land has one.
#[test]
fn every_profile_judges_the_demonstration() {
    let (ontario, _) = counted(oxpindle().parcels.values().cloned());
    let [iowa, manitoba, saskatchewan] = ["iowa", "manitoba", "saskatchewan"].map(under);
    let count = |standings: &BTreeMap<String, usize>, of: &str| standings.get(of).copied().unwrap_or_default();
    for (standings, _) in [&iowa, &manitoba, &saskatchewan] {
        assert_eq!(standings.values().sum::<usize>(), ontario.values().sum::<usize>());
    }
    assert!(count(&iowa.0, "right") > count(&ontario, "right"));
    assert!(count(&manitoba.0, "acquire") > count(&ontario, "acquire"));
    assert!(count(&saskatchewan.0, "right") <= count(&manitoba.0, "right"));

    let check = |id: &str, expected: [(&str, &str); 4]| {
        let found = [oxpindle().parcel(id), &iowa.1[id], &manitoba.1[id], &saskatchewan.1[id]];
        for (parcel, (standing, reason)) in found.into_iter().zip(expected) {
            assert!(standing.is_empty() || text(parcel, "standing") == standing, "{id}: {parcel}");
            assert!(reason.is_empty() || texts(parcel, "reasons").contains(&reason), "{id}: no {reason} in {parcel}");
        }
    };
    // On the creek.
    let unapproved = ("acquire", "approval_not_supplied");
    check("0527-020-002-00200", [("right", ""), ("right", ""), unapproved, unapproved]);
    // Near the creek, behind a neighbour.
    check(
        "0527-020-002-00520",
        [("acquire", "no_frontage"), ("right", "natural_flow_over_neighbour"), unapproved, unapproved],
    );
    // A hole in the survey is one under every law.
    check("0527-010-004-00510", [("", "hole_in_elevation"); 4]);
}

#[test]
fn what_a_schedule_says_stands_beside_what_is_measured() {
    let check = |id: &str, drain: &str, case: &str, within: Value| {
        let items = list(oxpindle().parcel(id), "schedule");
        let item = items.iter().find(|item| text(item, "drain_id") == drain).expect("an item of the drain");
        assert_eq!((text(item, "case"), &item["within_accuracy"]), (case, &within), "{id}: {item}");
    };
    // `schedule.rs` of the demonstration: 8.0 ha and none.
    check("0527-030-003-00200", "D-07", "on_drain_assessed", json!(false));
    check("0527-030-003-00520", "D-07", "on_drain_not_assessed", Value::Null);
    let item = &list(oxpindle().parcel("0527-030-003-00200"), "schedule")[0];
    assert_eq!(number(item, "assessed_ha"), 8.0);
    let difference = number(item, "draining_ha") + number(item, "piped_in_ha") - 8.0;
    assert!((number(item, "difference_ha") - difference).abs() < 1e-3, "{item}");
}

/// Every parcel that a petition's area names must acquire an outlet for those hectares, the petitioner among them.
#[test]
fn a_petition_names_a_basin_and_the_land_in_it_without_an_outlet() {
    let mut areas = 0;
    for (id, parcel) in &oxpindle().parcels {
        for way in list(parcel, "ways_to_acquire") {
            let names_area = text(way, "way") == "petition" && texts(way, "serves").contains(&"surface");
            assert_eq!(way["area"].is_null(), !names_area, "{way}");
            assert!(!list(way, "documents").is_empty() && text(way, "if_refused").ends_with('.'));
            if way["area"].is_null() {
                continue;
            }
            let (area, members) = (&way["area"], list(&way["area"], "parcels"));
            areas += 1;
            assert!(members.iter().any(|member| text(member, "parcel_id") == id), "{id}: {area}");
            assert!((sum(members, "hectares") - number(area, "hectares")).abs() < 2e-3 * members.len() as f64);
            assert!(number(area, "hectares") <= number(area, "basin_ha") + 1e-3, "{id}: {area}");
            for member in members {
                let acquire = number(oxpindle().parcel(text(member, "parcel_id")), "acquire_ha");
                assert!(number(member, "hectares") <= acquire + 1e-3, "{member}");
            }
        }
    }
    assert!(areas > 10, "{areas}");
}

#[test]
fn those_who_must_agree_are_named_with_the_metres_across_their_land() {
    // Two neighbours in between: `parcels.rs` of the demonstration.
    let parcel = oxpindle().parcel("0527-030-005-00420");
    let ways = list(parcel, "ways_to_acquire");
    let agreement = ways.iter().find(|way| text(way, "way") == "mutual_agreement").expect("an agreement");
    let consents = list(agreement, "consents");
    let asked =
        |kind: &Value, id: &Value| consents.iter().find(|consent| consent["kind"] == *kind && consent["id"] == *id);
    for crossed in texts(agreement, "through") {
        assert!(asked(&json!("parcel"), &json!(crossed)).is_some(), "{crossed} in {consents:?}");
    }
    // The ditch of Teasel Line carries the water to the drain (`plan.rs`, `roads.rs`).
    let road = asked(&json!("road"), &json!("R-2")).expect("the road on the way");
    assert_eq!((text(road, "name"), text(road, "authority")), ("Teasel Line", "County of Thrumbleby"));
    assert!(road["owner"].is_null(), "{road}");
    let steps = texts(agreement, "steps");
    let authority = "the authority of Teasel Line (County of Thrumbleby) must agree too.";
    assert!(steps.iter().any(|step| step.ends_with(authority)), "{steps:#?}");
    let crossings = oxpindle().layer("crossings.geojson");
    let main = crossings.iter().filter(|line| line["parcel_id"] == "0527-030-005-00420" && line["share"] == 1);
    let asked_on_way = main.filter_map(|line| Some((line, asked(&line["to_kind"], &line["to_id"])?)));
    for (crossing, consent) in asked_on_way {
        assert!(number(consent, "metres") + 1e-3 >= number(crossing, "metres_on_land"), "{consent} {crossing}");
    }
}

/// `structures.rs` of the demonstration: the main takes the water under the divide into the Sedgeling Drain.
#[test]
fn piped_water_that_leaves_its_watershed_is_told() {
    let parcel = oxpindle().parcel("0527-010-006-00200");
    let [pipe] = list(parcel, "piped") else { panic!("one pipe in {}", parcel["piped"]) };
    assert_eq!((text(pipe, "pipe_id"), text(pipe, "outlet_id")), ("T-1", "D-11"));
    assert_eq!(number(pipe, "hectares"), number(parcel, "piped_ha"));
    assert!(number(pipe, "leaving_watershed_ha") > 0.0);
    assert!(texts(parcel, "reasons").contains(&"piped_out_of_watershed"));
    assert!(texts(parcel, "field_checks").iter().any(|check| check.contains("tile plan")), "{parcel}");
}

/// Agreements bind later owners only where registered: Drainage Act, s. 2; ontario.ca, Mutual agreements.
#[test]
fn an_agreement_that_is_not_registered_does_not_bind_a_later_owner() {
    let standing = |owned_since: &str, registered: Value| {
        let case = SmallCase::sound();
        case.edit("owner = \"owner\"", "owner = \"owner\"\nowned_since = \"since\"");
        case.edit("members = \"parties\"", "members = \"parties\"\nregistered = \"on_title\"\nagreed = \"made\"");
        let parcel = |roll: &str, u| {
            let fields = json!({ "roll": roll, "owner": format!("owner of {roll}"), "since": owned_since });
            polygon(fields, u, (20.0, 380.0))
        };
        case.layer("parcels.geojson", &[parcel("001", (20.0, 200.0)), parcel("002", (200.0, 380.0))]);
        let agreement = json!({
            "id": "WC", "kind": "mutual_agreement_drain", "parties": "001;002", "on_title": registered, "made": "1998-05-02"
        });
        case.layer("creek.geojson", &[line(agreement, [[200.0, 395.0], [200.0, 5.0]])]);
        text(&run(&case)[0], "standing").to_owned()
    };
    assert_eq!(standing("1990", json!(false)), "right");
    assert_eq!(standing("2015-03", json!(false)), "acquire");
    assert_eq!(standing("2015-03", json!(true)), "right");
}

/// A parcel in two parts, one each side of a road across the valley; the upper part's water crosses the road.
#[test]
fn a_field_split_by_a_road_counts_its_water_once_and_asks_nobody_for_its_own_land() {
    let case = SmallCase::sound();
    let (upper, lower) = (((20.0, 180.0), (220.0, 380.0)), ((20.0, 180.0), (20.0, 180.0)));
    let part = |(u, v): ((f64, f64), (f64, f64))| polygon(json!({}), u, v)["geometry"]["coordinates"].clone();
    let split = json!({
        "type": "Feature",
        "properties": { "roll": "001", "owner": "Dorothea Inkwell" },
        "geometry": { "type": "MultiPolygon", "coordinates": [part(upper), part(lower)] }
    });
    let other = polygon(json!({ "roll": "002", "owner": "B. Thistlewood" }), (180.0, 380.0), (20.0, 380.0));
    case.layer("parcels.geojson", &[split, other]);
    let parcels = run(&case);
    let own = number(&parcels[0], "own_ha");
    assert!((own - 2.0 * 160.0 * 160.0 / 10_000.0).abs() < 0.2, "{own}");
    assert!((sum(list(&parcels[0], "shares"), "hectares") - own).abs() < 1e-3);
    assert!(number(&parcels[0], "contributing_ha") >= own);
    assert!(!texts(&parcels[0], "parcels_crossed").contains(&"001"));
    for way in list(&parcels[0], "ways_to_acquire") {
        assert!(
            list(way, "consents").iter().all(|consent| consent["kind"] == "road" || consent["id"] != "001"),
            "{way}"
        );
    }
}
