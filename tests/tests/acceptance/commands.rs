//! The other commands on the demonstration case: they give the same as the main job.

use std::collections::BTreeMap;
use std::path::Path;

use fallwright::commands::{TerrainOptions, terrain, watershed};
use fallwright::{MapPoint, Place};
use fallwright_demo::township;
use serde_json::Value;

use crate::oxpindle::{cells, oxpindle};
use crate::results::{
    BUDGET, into, list, number, properties, raster, read_json, silent, table, text, trace, trace_upstream,
};

/// Rows of `watershed_parcels.csv` in the watershed itself: kind and id of the land, reach, cells on the surface, cells by pipe.
fn rows(path: &Path) -> Vec<(String, String, i64, i64)> {
    let hectares = |row: &BTreeMap<String, String>, column: &str| cells(row[column].parse().unwrap());
    let row = |row: BTreeMap<String, String>| {
        (
            format!("{} {}", row["kind"], row["id"]),
            row["reach_id"].clone(),
            hectares(&row, "surface_ha"),
            hectares(&row, "piped_ha"),
        )
    };
    table(path).into_iter().filter(|row| row["part"] != "downstream").map(row).collect()
}

#[test]
fn a_drains_watershed_is_what_its_reaches_carry_to_the_cell() {
    check_drain("D-07");
    check_drain("D-11");
}

fn check_drain(drain: &str) {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    watershed(&oxpindle().case, (&Place::Outlet(drain.to_owned()), 0.0), &into(&out), &BUDGET, &silent).unwrap();
    let parts = properties(&read_json(&out.join("watershed.geojson")));
    let (whole, reaches) = parts.split_first().unwrap();
    assert_eq!((text(whole, "part"), text(whole, "outlet_id")), ("whole", drain));
    let rows = rows(&out.join("watershed_parcels.csv"));
    for (position, key) in ["surface_ha", "piped_ha"].into_iter().enumerate() {
        let value = |row: &(String, String, i64, i64)| if position == 0 { row.2 } else { row.3 };
        let sum: i64 = reaches.iter().map(|reach| cells(number(reach, key))).sum();
        assert_eq!(sum, cells(number(whole, key)), "{key} of the reaches of {drain}");
        assert_eq!(rows.iter().map(value).sum::<i64>(), sum, "{key} of the parcels");
        for reach in reaches {
            let id = text(reach, "reach_id");
            let of_reach: i64 = rows.iter().filter(|row| row.1 == id).map(value).sum();
            assert_eq!(of_reach, cells(number(reach, key)), "{key} of the parcels along {id}");
        }
    }
    // Nobody has more land in a watershed than they have.
    let mut by_parcel: BTreeMap<&str, i64> = BTreeMap::new();
    for (parcel, _, surface, _) in &rows {
        *by_parcel.entry(parcel).or_default() += surface;
    }
    for (id, surface) in by_parcel {
        let own = oxpindle().parcels.get(id).map_or(i64::MAX, |parcel| cells(number(parcel, "own_ha")));
        assert!(surface <= own, "{id}: {surface} of {own} cells");
    }
    // What the main job counts where water leaves the drain: through its lowest reach, and through a cell of its line beyond the
    // creek's, if there is one. The block has 1 200 ha, of which the creek takes the greater part by itself: where a drain had a
    // quarter of them, the creek would be counted with it.
    let all = oxpindle().layer("reaches.geojson");
    let own: Vec<&Value> = all.iter().filter(|reach| reach["waterway_id"] == drain).collect();
    let goes_on = |reach: &&&Value| own.iter().any(|other| other["reach_id"] == reach["to_reach"]);
    let leaving = own.iter().filter(|reach| !goes_on(reach));
    let carried: i64 = leaving.map(|reach| cells(number(reach, "surface_ha"))).sum();
    assert_eq!(carried, cells(number(whole, "surface_ha")), "{drain}");
    assert!(number(whole, "surface_ha") < 300.0, "{drain}: {whole}");
}

#[test]
fn the_watershed_of_a_point_is_what_drains_through_it() {
    let case = oxpindle();
    let links = case.layer("links.geojson");
    let culvert =
        links.iter().find(|link| link["link_id"] == "C-03").expect("the first culvert of the Quernstone Drain");
    let area = raster(&case.out.join("area_draining.tif"));
    let [col, row] = [0, 1].map(|axis| culvert["inlet_cell"][axis].as_u64().unwrap() as usize);
    let inlet = area.frame.cell(col, row);
    let expected = i64::from(area[inlet] as u32);
    assert_eq!(cells(number(culvert, "surface_ha")), expected);
    let (x, y) = area.frame.centre(inlet);
    let home = tempfile::tempdir().unwrap();
    let check = |name: &str, at: (&Place, f64)| {
        let out = home.path().join(name);
        watershed(&case.case, at, &into(&out), &BUDGET, &silent).unwrap();
        let parts = properties(&read_json(&out.join("watershed.geojson")));
        assert_eq!(cells(number(&parts[0], "surface_ha")), expected, "{name}");
        assert_eq!(rows(&out.join("watershed_parcels.csv")).iter().map(|row| row.2).sum::<i64>(), expected, "{name}");
    };
    check("at the cell's centre", (&Place::Point(MapPoint { x, y, lonlat: false }), 0.0));
    // In the next cell to the east; of all cells around that the drain's own has most land.
    check("beside it, with a snap", (&Place::Point(MapPoint { x: x + 1.5, y, lonlat: false }), 3.0));
}

#[test]
fn a_trace_tells_the_crossings_of_the_main_job() {
    let case = oxpindle();
    let id = "0527-030-005-00420";
    let from = Place::Parcel(id.to_owned());
    let (_, features) = trace(&case.case, &from).unwrap();
    let traced = properties(&features).into_iter().filter(|feature| feature["kind"] == "crossing");
    let keys = [
        "share",
        "order",
        "from_kind",
        "from_id",
        "to_kind",
        "to_id",
        "distance_m",
        "to_name",
        "to_authority",
        "to_owner",
        "metres_on_land",
        "fall_m",
        "carried_by",
        "carrier_id",
        "ground_m",
        "maintained_by",
        "notified",
    ];
    let chosen = |feature: &Value| keys.map(|key| feature[key].clone());
    let traced: Vec<_> = traced.map(|feature| chosen(&feature)).collect();
    let crossings = case.layer("crossings.geojson").into_iter().filter(|crossing| crossing["parcel_id"] == id);
    let crossings: Vec<_> = crossings.map(|crossing| chosen(&crossing)).collect();
    assert!(crossings.len() >= 2, "{crossings:?}");
    assert_eq!(traced, crossings);
    // In order downstream, each on the land that the one before led to.
    for pair in crossings.windows(2).filter(|pair| pair[0][0] == pair[1][0]) {
        assert_eq!(pair[0][4..6], pair[1][2..4], "{pair:?}");
        assert!(pair[0][6].as_f64() <= pair[1][6].as_f64(), "{pair:?}");
    }
}

#[test]
fn a_trace_upstream_tells_what_the_main_job_counts() {
    let case = oxpindle();
    let id = "0527-020-004-00100";
    let from = Place::Parcel(id.to_owned());
    let (_, features) = trace_upstream(&case.case, &from).unwrap();
    let by_party = |records: &[Value], [kind, id]: [&str; 2]| -> BTreeMap<String, i64> {
        let land = |item: &Value| format!("{} {}", text(item, kind), item[id]);
        records.iter().map(|item| (land(item), cells(number(item, "hectares")))).collect()
    };
    let received = by_party(list(case.parcel(id), "receives_from"), ["kind", "id"]);
    assert!(received.len() > 2, "{received:?}");
    let features = properties(&features);
    let of_kind = |kind: &str| features.iter().filter(|feature| feature["kind"] == kind).cloned().collect::<Vec<_>>();
    assert_eq!(by_party(&of_kind("giver"), ["from_kind", "from_id"]), received);
    for giver in of_kind("giver") {
        let by_way: i64 = list(&giver, "ways").iter().map(|way| cells(number(way, "hectares"))).sum();
        assert_eq!(by_way, cells(number(&giver, "hectares")), "{giver}");
    }
    let coming_in: i64 = of_kind("inflow").iter().map(|inflow| cells(number(inflow, "hectares"))).sum();
    assert_eq!(coming_in, received.values().sum::<i64>());
}

#[test]
fn terrain_alone_keeps_its_water_and_lowers_no_ground() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("out");
    let dem = oxpindle().case.with_file_name("elevation.tif");
    terrain(&dem, &TerrainOptions::default(), &into(&out), &BUDGET, &silent).unwrap();
    let town = township();
    let surveyed = town.elevation.values.iter().filter(|z| !z.is_nan()).count();
    assert_eq!(read_json(&out.join("run.json"))["counts"]["cells_with_elevation"], surveyed);
    let [ground, direction, area] =
        ["ground", "direction", "area_draining"].map(|name| raster(&out.join(format!("{name}.tif"))));
    let mut arriving = 0.0;
    for (index, &z) in town.elevation.values.iter().enumerate() {
        assert_eq!(z.is_nan(), ground.values[index].is_nan());
        assert!(z.is_nan() || ground.values[index] >= z, "cell {index} was lowered from {z}");
        assert!(direction.values[index] != 10.0, "no structure is known");
        if direction.values[index] == 0.0 {
            arriving += f64::from(area.values[index]);
        }
    }
    assert_eq!(arriving as usize, surveyed);
}
