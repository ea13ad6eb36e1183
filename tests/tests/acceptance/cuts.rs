//! Which findings depend on a cut.

use std::collections::BTreeSet;
use std::fs;

use fallwright::OutletsExtras;
use fallwright::commands::outlets;
use serde_json::Value;

use crate::oxpindle::oxpindle;
use crate::results::{BUDGET, into, properties, read_json, silent, text, texts};

/// What a reader would act on.
fn conclusion(parcel: &Value) -> [&Value; 3] {
    ["standing", "basis", "outlet_id"].map(|key| &parcel[key])
}

/// A parcel that is judged otherwise where nothing is cut at all is named by some cut.
#[test]
fn findings_that_change_without_cuts_are_told() {
    let block = oxpindle();
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(block.case.parent().unwrap()).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
    }
    let case = folder.path().join("case.toml");
    let changed = fs::read_to_string(&case).unwrap().replacen("[terrain]", "[terrain]\nlongest_cut_m = 0.0", 1);
    fs::write(&case, changed).unwrap();
    let out = folder.path().join("out");
    outlets(&case, &into(&out), OutletsExtras::default(), &BUDGET, &silent).unwrap();

    let uncut = properties(&read_json(&out.join("parcels.geojson")));
    let differs = |parcel: &&Value| conclusion(parcel) != conclusion(block.parcel(text(parcel, "parcel_id")));
    let changed: BTreeSet<String> =
        uncut.iter().filter(differs).map(|parcel| text(parcel, "parcel_id").to_owned()).collect();
    let listed: BTreeSet<String> = block
        .layer("terrain_changes.geojson")
        .iter()
        .filter(|change| change["finding_depends"].is_array())
        .flat_map(|change| texts(change, "finding_depends").into_iter().map(str::to_owned).collect::<Vec<_>>())
        .collect();
    assert!(!changed.is_empty(), "the block shows a finding that depends on a cut");
    assert!(changed.is_subset(&listed), "not listed: {:?}", changed.difference(&listed));
}
