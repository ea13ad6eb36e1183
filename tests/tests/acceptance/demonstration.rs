//! The main job on the demonstration case.
//!
//! Expected values are those of the plan of the invented township: which parcel lies where, what its drains assess and
//! what was dug where (`fallwright-demo`: its table of situations, `plan.rs`, `parcels.rs`, `schedule.rs`,
//! `structures.rs`). None is taken from an earlier run.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_demo::{ScheduleRow, township};
use fallwright_units::Cell;
use serde_json::Value;

use crate::oxpindle::{CELL_M2, cells, oxpindle};
use crate::results::{list, number, raster, sum, text, texts};

/// Six decimals are written.
const WRITTEN_HA: f64 = 1e-6;

#[test]
fn every_kind_of_finding_occurs() {
    let case = oxpindle();
    let of_all =
        |found: &dyn Fn(&Value) -> Vec<String>| -> BTreeSet<String> { case.parcels.values().flat_map(found).collect() };
    let check = |found: BTreeSet<String>, expected: &[&str]| {
        for word in expected {
            assert!(found.contains(*word), "no parcel with {word} among {found:?}");
        }
    };
    let standings = of_all(&|parcel| vec![text(parcel, "standing").to_owned()]);
    check(standings, &["right", "right_in_part", "acquire", "undecided"]);
    let bases = of_all(&|parcel| texts(parcel, "bases").into_iter().map(str::to_owned).collect());
    check(bases, &["natural_watercourse", "municipal_drain", "mutual_agreement_drain"]);
    let undecided = of_all(&|parcel| {
        let shares = list(parcel, "shares").iter().filter(|share| share["standing"] == "undecided");
        shares.flat_map(|share| texts(share, "reasons")).map(str::to_owned).collect()
    });
    check(undecided, &["path_leaves_data", "hole_in_elevation", "unmapped_channel"]);
    assert_eq!(case.parcels.len(), township().parcels.len());
}

#[test]
fn hectares_balance_for_every_parcel() {
    for (id, parcel) in &oxpindle().parcels {
        let own = number(parcel, "own_ha");
        let check = |what: &str, found: f64, expected: f64| {
            assert!((found - expected).abs() < 50.0 * WRITTEN_HA, "{id}: {what}: {found} ha, expected {expected} ha");
        };
        let standings = ["right_ha", "acquire_ha", "undecided_ha"].map(|key| number(parcel, key));
        check("the three standings make up its own land", standings.iter().sum(), own);
        check("its shares make up its own land", sum(list(parcel, "shares"), "hectares"), own);
        let run_on = number(parcel, "run_on_ha");
        check("what it receives makes up its run-on", sum(list(parcel, "receives_from"), "hectares"), run_on);
        check("contributing land is own and run-on", number(parcel, "contributing_ha"), own + run_on);
        for standing in ["right", "acquire", "undecided"] {
            let shares = list(parcel, "shares").iter().filter(|share| share["standing"] == standing);
            check(standing, sum(shares, "hectares"), number(parcel, &format!("{standing}_ha")));
        }
    }
}

/// The parcel's land on the raster is that of its outline, to half a cell along its boundary.
#[test]
fn own_land_is_that_of_the_outline() {
    let longest =
        township().parcels.iter().map(|parcel| (parcel.roll.clone(), perimeter(parcel))).collect::<BTreeMap<_, _>>();
    for (id, parcel) in &oxpindle().parcels {
        let tolerance = longest[id] * CELL_M2.sqrt() / 2.0 / 10_000.0;
        let difference = number(parcel, "own_ha") - number(parcel, "area_ha");
        assert!(difference.abs() <= tolerance, "{id}: {difference} ha, at most {tolerance} ha");
    }
}

fn perimeter(parcel: &fallwright_demo::Parcel) -> f64 {
    let corners = parcel.outline.exterior().0.windows(2);
    corners.map(|pair| (pair[1].x - pair[0].x).hypot(pair[1].y - pair[0].y)).sum()
}

#[test]
fn water_in_is_water_out() {
    let case = oxpindle();
    let surveyed = township().elevation.values.iter().filter(|z| !z.is_nan()).count() as u64;
    let counts = &case.run["counts"];
    assert_eq!(counts["cells_with_elevation"].as_u64(), Some(surveyed));
    assert_eq!(counts["cells_to_ends"].as_u64(), Some(surveyed));
    let direction = raster(&case.out.join("direction.tif"));
    let area = raster(&case.out.join("area_draining.tif"));
    let at_ends = direction.values.iter().zip(&area.values).filter(|&(&code, _)| code == 0.0);
    let arriving: f64 = at_ends.map(|(_, &cells)| f64::from(cells)).sum();
    assert_eq!(arriving as u64, surveyed);
}

#[test]
fn each_link_is_marked_where_it_takes_its_water() {
    let case = oxpindle();
    let direction = raster(&case.out.join("direction.tif"));
    let mut inlets = BTreeSet::new();
    for link in case.layer("links.geojson") {
        let [col, row] = [0, 1].map(|axis| link["inlet_cell"][axis].as_u64().unwrap() as usize);
        let inlet = direction.frame.cell(col, row);
        assert_eq!(direction[inlet], 10.0, "{link}");
        inlets.insert(inlet);
    }
    let town = township();
    assert_eq!(inlets.len(), town.culverts.len() + town.pipes.len());
    let marked = (0..direction.values.len()).map(Cell).filter(|&cell| direction[cell] == 10.0);
    assert_eq!(marked.collect::<BTreeSet<_>>(), inlets);
}

/// The standing and a basis (`-` for none) of a parcel.
#[test]
fn parcels_stand_as_they_were_planned() {
    let check = |id: &str, standing: &str, basis: &str| {
        let parcel = oxpindle().parcel(id);
        assert_eq!(text(parcel, "standing"), standing, "{id}: {parcel}");
        assert_eq!(parcel["basis"].as_str().unwrap_or("-"), basis, "{id}: {parcel}");
    };
    // On the creek.
    check("0527-020-002-00200", "right", "natural_watercourse");
    check("0527-020-003-00200", "right", "natural_watercourse");
    // On the Quernstone Drain and assessed.
    check("0527-030-004-00300", "right", "municipal_drain");
    // On the Sedgeling Drain.
    check("0527-010-007-00300", "right", "municipal_drain");
    check("0527-010-007-00200", "right", "municipal_drain");
    // Named in the Pebblewick agreement.
    check("0527-030-008-00200", "right", "mutual_agreement_drain");
    check("0527-030-008-00300", "right", "mutual_agreement_drain");
    // Behind neighbours, in a road ditch.
    for id in ["0527-030-005-00420", "0527-030-001-00410", "0527-030-001-00300"] {
        check(id, "acquire", "-");
    }
    // By permission in a road ditch to a drain whose schedule is not supplied.
    check("0527-010-009-00200", "undecided", "-");
    // Over the edge of the data, by an unmapped channel, into a hole of the survey.
    for id in ["0527-010-009-00520", "0527-010-001-00300", "0527-010-002-00300"] {
        check(id, "undecided", "-");
    }
    check("0527-010-004-00510", "undecided", "-");
    check("0527-010-004-00520", "undecided", "-");
}

#[test]
fn parcels_are_told_what_they_were_planned_to_show() {
    let check = |id: &str, reason: &str| {
        let reasons = texts(oxpindle().parcel(id), "reasons");
        assert!(reasons.contains(&reason), "{id}: no {reason} among {reasons:?}");
    };
    for id in ["0527-030-001-00300", "0527-030-002-00300"] {
        check(id, "road_ditch_is_no_outlet");
    }
    check("0527-010-009-00200", "road_permission_is_revocable");
    check("0527-030-003-00200", "exceeds_assessed_hectares");
    check("0527-030-003-00520", "not_in_schedule");
    check("0527-010-007-00300", "schedule_not_supplied");
    check("0527-010-007-00200", "schedule_not_supplied");
    check("0527-020-007-00410", "agreement_not_registered");
    check("0527-020-007-00420", "agreement_not_registered");
    check("0527-030-006-00200", "ends_in_kept_depression");
    check("0527-010-004-00510", "hole_in_elevation");
    check("0527-010-004-00520", "hole_in_elevation");
    check("0527-010-001-00300", "unmapped_channel");
    check("0527-010-009-00520", "path_leaves_data");
    check("0527-020-001-00510", "path_leaves_data");
}

#[test]
fn the_permission_to_use_a_road_ditch_is_no_right() {
    let parcel = oxpindle().parcel("0527-010-009-00200");
    assert_eq!(number(parcel, "right_ha"), 0.0);
    assert!(!texts(parcel, "reasons").contains(&"road_ditch_is_no_outlet"), "{parcel}");
    assert!(texts(parcel, "reason_texts").iter().any(|reason| reason.contains("can be withdrawn")), "{parcel}");
    let ways = list(parcel, "ways_to_acquire").iter().map(|way| text(way, "way"));
    assert!(!ways.collect::<Vec<_>>().contains(&"road_authority_permission"), "it is held: {parcel}");
}

/// On the Quernstone Drain a parcel has a right for what it is assessed for, or for what drains there where that is less.
/// An excess within the profile's allowance (`minimums.excess_ha`, `excess_fraction`) goes with the assessment. Land on
/// the creek needs no assessment: its frontage is the stronger basis.
#[test]
fn the_schedule_limits_the_right() {
    let (allowed_ha, allowed_fraction) = (1.4, 0.10);
    for ScheduleRow { drain, roll, hectares } in township().schedule {
        let parcel = oxpindle().parcel(&roll);
        if texts(parcel, "bases").contains(&"natural_watercourse") {
            continue;
        }
        let to_drain = list(parcel, "shares").iter().filter(|share| share["outlet_id"] == drain);
        let draining = sum(to_drain, "hectares");
        let with_right = list(parcel, "shares").iter().filter(|share| share["basis"] == "municipal_drain");
        let right = sum(with_right, "hectares");
        let excess = draining - hectares;
        let allowance = f64::min(allowed_ha, allowed_fraction * hectares);
        let expected = if excess > allowance { hectares } else { draining };
        assert!((right - expected).abs() < 50.0 * WRITTEN_HA, "{roll}: {right} ha, expected {expected} ha");
    }
}

#[test]
fn a_parcel_assessed_for_less_than_it_drains_has_its_assessed_hectares() {
    // `schedule.rs`: 8.0 ha; `plan.rs`: lot 3 is 430 m wide, its north half in concession III 479.6 m deep.
    let parcel = oxpindle().parcel("0527-030-003-00200");
    assert_eq!(number(parcel, "right_ha"), 8.0);
    assert!((number(parcel, "area_ha") - 430.0 * 479.6 / 10_000.0).abs() < 1e-4);
    assert_eq!(text(parcel, "standing"), "right_in_part");
    let acquire = number(parcel, "acquire_ha");
    assert!((acquire - (number(parcel, "own_ha") - 8.0)).abs() < 2.0 * WRITTEN_HA);
}

#[test]
fn a_parcel_missing_from_the_schedule_is_to_be_connected() {
    let parcel = oxpindle().parcel("0527-030-003-00520");
    assert_eq!(text(parcel, "outlet_id"), "D-07");
    assert_eq!(number(parcel, "right_ha"), 0.0);
    let ways: Vec<&str> = list(parcel, "ways_to_acquire").iter().map(|way| text(way, "way")).collect();
    assert!(ways.contains(&"connection"), "{ways:?}");
}

#[test]
fn parties_to_the_unregistered_agreement_have_a_right_under_it() {
    for id in ["0527-020-007-00410", "0527-020-007-00420"] {
        let parcel = oxpindle().parcel(id);
        assert!(texts(parcel, "bases").contains(&"mutual_agreement_drain"), "{parcel}");
        let under_it = list(parcel, "shares").iter().filter(|share| share["outlet_id"] == "A-2");
        for share in under_it {
            assert_eq!(text(share, "standing"), "right", "{id}");
            assert!(texts(share, "reasons").contains(&"agreement_not_registered"), "{id}: {share}");
        }
    }
}

#[test]
fn water_of_land_behind_others_crosses_two_of_them_or_more() {
    for id in ["0527-030-005-00420", "0527-030-001-00410"] {
        let parcel = oxpindle().parcel(id);
        assert!(list(parcel, "parcels_crossed").len() >= 2, "{parcel}");
        let ways = list(parcel, "ways_to_acquire");
        let agreement = ways.iter().find(|way| way["way"] == "mutual_agreement").expect("an agreement is a way");
        // The main share's neighbours come first; those of the other shares to the same outlet follow.
        assert!(list(agreement, "through").starts_with(list(parcel, "parcels_crossed")), "{id}: {agreement}");
        assert_eq!(list(agreement, "shares")[0], 1, "{id}");
    }
}

#[test]
fn frontage_with_the_water_going_elsewhere_is_no_basis() {
    let parcel = oxpindle().parcel("0527-020-001-00510");
    let over_the_edge = list(parcel, "shares").iter().filter(|share| share["outlet_id"].is_null());
    let over_the_edge: Vec<_> = over_the_edge.collect();
    assert!(sum(over_the_edge.iter().copied(), "hectares") > number(parcel, "own_ha") / 2.0, "{parcel}");
    assert!(over_the_edge.iter().all(|share| share["standing"] == "undecided"), "{parcel}");
    let creek = list(parcel, "evidence").iter().any(|evidence| evidence["feature_id"] == "WC-1");
    assert!(creek, "the frontage on the creek is evidence: {parcel}");
}

#[test]
fn parcels_on_the_divide_drain_both_ways() {
    for id in ["0527-010-002-00200", "0527-010-003-00100"] {
        let parcel = oxpindle().parcel(id);
        let mut hectares: BTreeMap<&str, f64> = BTreeMap::new();
        for share in list(parcel, "shares") {
            *hectares.entry(share["outlet_id"].as_str().unwrap_or("edge")).or_default() += number(share, "hectares");
        }
        let considerable = hectares.values().filter(|&&hectares| hectares > 1.0).count();
        assert!(considerable >= 2, "{id}: {hectares:?}");
        assert!(hectares.contains_key("WC-1") && hectares.contains_key("edge"), "{id}: {hectares:?}");
    }
}

#[test]
fn shares_tell_the_hectares_of_each_field() {
    let parcel = oxpindle().parcel("0527-010-003-00100");
    let mut hectares: BTreeMap<&str, f64> = BTreeMap::new();
    for field in list(parcel, "shares").iter().filter_map(|share| share["fields"].as_array()).flatten() {
        *hectares.entry(text(field, "field_id")).or_default() += number(field, "hectares");
    }
    // `parcels.rs`: the two fields are lot 3 south and north of v = 500 m, 430 m by 460 m and by 480 m. A row or column
    // of cells more or less lies on each side.
    for (field, height) in [("back", 460.0), ("front", 480.0)] {
        let (expected, tolerance) = (430.0 * height / 10_000.0, 2.0 * (430.0 + height) / 10_000.0);
        assert!((hectares[field] - expected).abs() <= tolerance, "{field}: {hectares:?}");
    }
}

#[test]
fn the_pothole_takes_part_of_its_parcel_and_keeps_it() {
    let parcel = oxpindle().parcel("0527-030-006-00200");
    let kept =
        list(parcel, "shares").iter().filter(|share| texts(share, "reasons").contains(&"ends_in_kept_depression"));
    let kept: Vec<_> = kept.collect();
    assert!(kept.iter().all(|share| share["standing"] == "acquire" && share["outlet_id"].is_null()), "{parcel}");
    let hectares = sum(kept, "hectares");
    assert!(hectares > 1.0 && hectares < number(parcel, "own_ha"), "{hectares} ha");
    let ends = oxpindle().layer("paths.geojson").into_iter().filter(|path| path["ends"] == "kept_depression");
    let owners: BTreeSet<String> = ends.map(|path| text(&path, "parcel_id").to_owned()).collect();
    assert!(owners.contains("0527-030-006-00200"), "{owners:?}");
}

/// `structures.rs`: the tiled land is 350 m by 230 m within the parcel, and its main runs east to the Sedgeling Drain,
/// while the land's surface water runs west and north.
#[test]
fn tile_water_and_surface_water_part() {
    let case = oxpindle();
    let id = "0527-010-006-00200";
    let piped = number(case.parcel(id), "piped_ha");
    let (expected, tolerance) = (350.0 * 230.0 / 10_000.0, (350.0 + 230.0) * 2.0 / 10_000.0);
    assert!((piped - expected).abs() <= tolerance, "{piped} ha");
    let elsewhere = case.parcels.iter().filter(|(other, parcel)| *other != id && number(parcel, "piped_ha") != 0.0);
    assert_eq!(elsewhere.count(), 0);

    let links = case.layer("links.geojson");
    let main = links.iter().find(|link| link["link_id"] == "T-1").expect("the main is a link");
    assert_eq!(cells(number(main, "piped_ha")), cells(piped));
    let reaches: BTreeMap<String, Value> =
        case.layer("reaches.geojson").into_iter().map(|reach| (text(&reach, "reach_id").to_owned(), reach)).collect();
    let outlet = format!("{}.{}", main["outlet_cell"][0], main["outlet_cell"][1]);
    let mut below = reaches.values().find(|reach| reach["upper_node"] == outlet.as_str());
    assert_eq!(text(below.expect("a reach begins at the main's outlet"), "waterway_id"), "D-11");
    let mut with_pipe = BTreeSet::new();
    while let Some(reach) = below {
        assert_eq!(cells(number(reach, "piped_ha")), cells(piped), "{reach}");
        with_pipe.insert(text(reach, "reach_id"));
        below = reach["to_reach"].as_str().map(|next| &reaches[next]);
    }
    for (id, reach) in reaches.iter().filter(|(id, _)| !with_pipe.contains(id.as_str())) {
        assert_eq!(number(reach, "piped_ha"), 0.0, "{id}");
    }

    let paths = case.layer("paths.geojson");
    let surface = paths.iter().find(|path| path["parcel_id"] == id && path["main"] == true).expect("a main path");
    let first = texts(surface, "reaches")[0];
    assert!(first.starts_with("RD-") || first.starts_with("P-1"), "{surface}");
    assert!(!with_pipe.contains(first), "{surface}");
    assert_eq!(text(surface, "outlet_id"), "WC-1");
}

/// `parcels.rs`: the west sides of two parcels lie 0.6 m and 0.4 m too far west, over 490 m and 470 m.
#[test]
fn slivers_are_listed() {
    let case = oxpindle();
    let check = |ids: [&str; 2], square_metres: &str, wide: &str| {
        let warnings = list(&case.run, "warnings");
        let about = |warning: &&Value| ids.iter().all(|id| text(warning, "about").contains(id));
        let warning = warnings.iter().find(about).unwrap_or_else(|| panic!("{ids:?} not in {warnings:?}"));
        for word in [square_metres, wide] {
            assert!(text(warning, "found").contains(word), "no {word} in {warning}");
        }
        assert!(text(warning, "done").contains(ids[0]), "the ground stays with {}: {warning}", ids[0]);
    };
    check(["0527-020-008-00200", "0527-020-009-00200"], "294.00 m²", "0.60 m");
    check(["0527-010-001-00300", "0527-010-002-00300"], "188.00 m²", "0.40 m");
    assert_eq!(case.run["counts"]["slivers"], 2);
}

/// Somebody else's water is in `receives_from` of every parcel that a share's path crosses, and in `receives_piped_from` of
/// every one that the path of piped water crosses.
#[test]
fn who_crosses_a_parcel_is_among_those_it_receives_from() {
    let case = oxpindle();
    for crossing in case.layer("crossings.geojson") {
        let giver = text(&crossing, "parcel_id");
        if crossing["to_kind"] != "parcel" || crossing["to_id"] == giver {
            continue;
        }
        let by = if crossing["water"] == "piped" { "receives_piped_from" } else { "receives_from" };
        let from = list(case.parcel(text(&crossing, "to_id")), by);
        assert!(from.iter().any(|item| item["kind"] == "parcel" && item["id"] == giver), "{crossing}");
    }
}

/// A parcel gives each of the others no more than its own land.
#[test]
fn nobody_receives_more_from_a_parcel_than_it_has() {
    let case = oxpindle();
    for (id, parcel) in &case.parcels {
        for item in list(parcel, "receives_from") {
            if item["kind"] != "parcel" {
                continue;
            }
            let giver = text(item, "id");
            let from = case.parcel(giver);
            assert!(cells(number(item, "hectares")) <= cells(number(from, "own_ha")), "{giver} to {id}");
        }
    }
}

#[test]
fn every_finding_carries_its_cautions_and_its_next_step() {
    for (id, parcel) in &oxpindle().parcels {
        for words in ["not a survey", "not a legal opinion", "Only a court decides a right"] {
            assert!(text(parcel, "caution").contains(words), "{id}");
        }
        assert!(text(parcel, "next_step").ends_with('.'), "{id}");
    }
    assert!(text(&oxpindle().run, "caution").contains("not a legal opinion"));
}
