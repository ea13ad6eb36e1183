//! The demonstration case, written and run once for all tests.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use fallwright::commands::outlets;
use serde_json::Value;

use crate::results::{BUDGET, into, properties, read_json, silent, text};

/// Square metres of one of its cells: 2 m by 2 m.
pub(crate) const CELL_M2: f64 = 4.0;

pub(crate) struct Oxpindle {
    pub(crate) case: PathBuf,
    /// What `outlets` wrote, its `GeoPackage` too.
    pub(crate) out: PathBuf,
    pub(crate) run: Value,
    pub(crate) parcels: BTreeMap<String, Value>,
}

pub(crate) fn oxpindle() -> &'static Oxpindle {
    static OXPINDLE: OnceLock<Oxpindle> = OnceLock::new();
    OXPINDLE.get_or_init(|| {
        let home = home();
        fallwright_demo::write_case(&home.join("case"), false).unwrap();
        let (case, out) = (home.join("case/case.toml"), home.join("out"));
        outlets(&case, &into(&out), fallwright::OutletsExtras { geopackage: true, spread: true }, &BUDGET, &silent)
            .unwrap();
        let parcels = properties(&read_json(&out.join("parcels.geojson")));
        let parcels = parcels.into_iter().map(|parcel| (text(&parcel, "parcel_id").to_owned(), parcel)).collect();
        Oxpindle { run: read_json(&out.join("run.json")), case, out, parcels }
    })
}

impl Oxpindle {
    pub(crate) fn parcel(&self, id: &str) -> &Value {
        self.parcels.get(id).unwrap_or_else(|| panic!("no parcel {id}"))
    }

    /// Properties of the features of one of the results.
    pub(crate) fn layer(&self, name: &str) -> Vec<Value> {
        properties(&read_json(&self.out.join(name)))
    }
}

/// Hectares as a number of cells, which they must be.
pub(crate) fn cells(hectares: f64) -> i64 {
    let cells = hectares * 10_000.0 / CELL_M2;
    assert!((cells - cells.round()).abs() < 1e-3, "{hectares} ha are no whole number of cells");
    cells.round() as i64
}

/// A folder below the build folder, since nothing that lives as long as the process is ever dropped. Those of processes
/// that have ended are removed.
fn home() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let process = path.file_name().and_then(|name| name.to_str()).and_then(|name| name.strip_prefix("oxpindle-"));
        if process.is_some_and(|process| !Path::new("/proc").join(process).exists()) {
            let _ = fs::remove_dir_all(path);
        }
    }
    let home = folder.join(format!("oxpindle-{}", std::process::id()));
    let _ = fs::remove_dir_all(&home);
    fs::create_dir_all(&home).unwrap();
    home
}
