//! Whose land the water crosses, in order, and whose water arrives.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use fallwright_geodata::Projector;
use fallwright_network::{Crossing, End, Party, Station, Trace, trace as follow};
use fallwright_report::metres;
use fallwright_terrain::label_upstream;
use fallwright_units::{Cell, Raster};
use serde_json::{Value, json};

use crate::Progress;
use crate::facts::carrier;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::outlets::maintained_by;
use crate::place::{cell_at, parcel};
use crate::study::{Study, work_out};
use crate::summary::{hectares, table};

/// Where the trace begins.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceFrom {
    /// A parcel's id: one path for each of its shares.
    Parcel(String),
    Point {
        x: f64,
        y: f64,
        /// Whether `x` and `y` are longitude and latitude, degrees on WGS 84.
        lonlat: bool,
    },
}

/// The paths as a table, and as `GeoJSON`.
pub struct TraceReport {
    features: Value,
    lines: Vec<String>,
}

impl TraceReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.features.clone()
    }
}

/// Follows the water of a parcel or a point down to its outlet, or tells whose water arrives there. Writes no file.
///
/// # Errors
/// Faults of the input; an unknown parcel or a point without elevation.
pub fn trace(
    case: &Path,
    from: &TraceFrom,
    upstream: bool,
    settings: &Settings,
    progress: Progress,
) -> Result<TraceReport, Failure> {
    let inputs = Arc::new(read_inputs(case, settings, progress)?);
    let study = work_out(inputs, &BTreeSet::new(), progress)?;
    if upstream { arriving(&study, from) } else { leaving(&study, from) }
}

fn leaving(study: &Study, from: &TraceFrom) -> Result<TraceReport, Failure> {
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let mut lines = Vec::new();
    let mut features = Vec::new();
    match from {
        TraceFrom::Parcel(id) => {
            let parcel = parcel(study, id)?;
            lines.push(format!("water leaving parcel {id} ({})", owner(study, Party::Parcel(parcel))));
            for (number, (share, trace)) in (1..).zip(study.shares[parcel].iter().zip(&study.traces[parcel])) {
                if share.is_remainder {
                    lines.push(format!("remainder of small leaving points: {}", hectares(study.hectares(share.cells))));
                    continue;
                }
                lines.push(format!("share {number}: {}", hectares(study.hectares(share.cells))));
                lines.extend(path_lines(study, trace));
                features.extend(path_features(study, trace, Some(number), &to_lonlat)?);
            }
        }
        TraceFrom::Point { x, y, lonlat } => {
            let cell = cell_at(study, (*x, *y), *lonlat)?;
            lines.push(format!("water from {x}, {y} on the land of {}", named(study, study.setting.parties.of(cell))));
            let trace = follow(&study.setting, cell);
            lines.extend(path_lines(study, &trace));
            features.extend(path_features(study, &trace, None, &to_lonlat)?);
        }
    }
    lines.push(fallwright_report::CAUTION.to_owned());
    Ok(TraceReport { features: collection(&features), lines })
}

fn collection(features: &[Value]) -> Value {
    json!({ "type": "FeatureCollection", "name": "trace", "features": features })
}

/// The lands that a path crosses, as a table, and where it ends.
fn path_lines(study: &Study, trace: &Trace) -> Vec<String> {
    let header = ["at m", "m on it", "onto the land of", "carried by", "maintenance"].map(str::to_owned).to_vec();
    let row = |crossing: &Crossing| {
        let (carried_by, id) = carrier(study, crossing.carrier);
        let maintained_by = maintained_by(study, &carried_by, crossing.to);
        let carried_by = id.map_or_else(|| carried_by.clone(), |id| format!("{carried_by} {id}"));
        let metres = [crossing.distance_m, crossing.metres_on_land].map(|metres| format!("{metres:.1}"));
        let [at, on_it] = metres;
        vec![at, on_it, named(study, crossing.to), carried_by, maintained_by]
    };
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(trace.crossings.iter().map(row)).collect();
    let mut lines = if trace.crossings.is_empty() { Vec::new() } else { table(&rows) };
    lines.push(conclusion(study, trace));
    lines.into_iter().map(|line| format!("  {line}")).collect()
}

/// The crossings as points, then the path as a line.
fn path_features(
    study: &Study,
    trace: &Trace,
    share: Option<u32>,
    to_lonlat: &Projector,
) -> Result<Vec<Value>, Failure> {
    let mut features = Vec::new();
    for (order, crossing) in (1..).zip(&trace.crossings) {
        let (carried_by, carrier_id) = carrier(study, crossing.carrier);
        let (lon, lat) = to_lonlat.point((crossing.x, crossing.y))?;
        features.push(json!({
            "type": "Feature",
            "geometry": { "type": "Point", "coordinates": [lon, lat] },
            "properties": {
                "share": share,
                "order": order,
                "from": study.party_name(crossing.from),
                "to": study.party_name(crossing.to),
                "to_owner": study.party_owner(crossing.to),
                "distance_m": metres(crossing.distance_m),
                "metres_on_land": metres(crossing.metres_on_land),
                "maintained_by": maintained_by(study, &carried_by, crossing.to),
                "carried_by": carried_by,
                "carrier_id": carrier_id,
            },
        }));
    }
    let point = |station: &Station| Ok(to_lonlat.point((station.x, station.y)).map(<[f64; 2]>::from)?);
    let points = trace.stations.iter().map(point).collect::<Result<Vec<[f64; 2]>, Failure>>()?;
    let geometry = match &points[..] {
        [only] => json!({ "type": "Point", "coordinates": only }),
        points => json!({ "type": "LineString", "coordinates": points }),
    };
    features.push(json!({
        "type": "Feature",
        "geometry": geometry,
        "properties": {
            "share": share,
            "outlet_id": trace.outlet.map(|outlet| study.setting.feature_id(outlet)),
            "outlet_class": trace.outlet.map(|outlet| study.feature_class(outlet)),
            "path_m": metres(trace.length_m()),
            "fall_m": metres(trace.fall_m(&study.setting)),
        },
    }));
    Ok(features)
}

fn conclusion(study: &Study, trace: &Trace) -> String {
    let way = format!("after {:.0} m and {:.2} m of fall", trace.length_m(), trace.fall_m(&study.setting));
    match (trace.outlet, trace.end) {
        (Some(outlet), _) => {
            let class = study.feature_class(outlet);
            let label = study.inputs.profile.class(class).map_or(class, |class| &class.label);
            let name = study.feature_name(outlet).map_or_else(String::new, |name| format!(" ({name})"));
            format!("{way} it reaches {label} {}{name}", study.setting.feature_id(outlet))
        }
        (None, Some(End::Hole)) => format!("{way} it runs into a hole in the elevation"),
        (None, Some(End::KeptDepression)) => format!("{way} it ends in a real depression"),
        (None, _) => format!("{way} it leaves the elevation data without having met a lawful outlet"),
    }
}

fn arriving(study: &Study, from: &TraceFrom) -> Result<TraceReport, Failure> {
    let (title, givers) = match from {
        TraceFrom::Parcel(id) => {
            let parcel = parcel(study, id)?;
            let contribution = study.contributions.get(&Party::Parcel(parcel));
            let givers = contribution.map(|contribution| contribution.receives_from.clone()).unwrap_or_default();
            (format!("water arriving on parcel {id} ({})", owner(study, Party::Parcel(parcel))), givers)
        }
        TraceFrom::Point { x, y, lonlat } => {
            let cell = cell_at(study, (*x, *y), *lonlat)?;
            (format!("water passing {x}, {y}"), above(study, cell))
        }
    };
    let mut rows: Vec<(Party, u64)> = givers.into_iter().collect();
    rows.sort_by_key(|&(party, cells)| (std::cmp::Reverse(cells), party));
    let total: u64 = rows.iter().map(|(_, cells)| cells).sum();
    let mut lines = vec![format!("{title}: {}", hectares(study.hectares(total)))];
    let mut features = Vec::new();
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    for (party, cells) in rows {
        lines.push(format!("  {:>12}  {}", hectares(study.hectares(cells)), named(study, party)));
        let shape = match party {
            Party::Parcel(parcel) => Some(to_lonlat.geometry(&study.inputs.parcels[parcel].shape.clone().into())?),
            Party::Road | Party::Unowned => None,
        };
        features.push(json!({
            "type": "Feature",
            "geometry": shape.as_ref().map(geojson::Geometry::from),
            "properties": { "parcel_id": study.party_name(party), "owner": study.party_owner(party), "hectares": study.hectares(cells) },
        }));
    }
    lines.push(fallwright_report::CAUTION.to_owned());
    Ok(TraceReport { features: collection(&features), lines })
}

/// Whose cells drain through a cell.
fn above(study: &Study, cell: Cell) -> BTreeMap<Party, u64> {
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    labels[cell] = 1;
    let labels = label_upstream(&study.setting.conditioned.flow, labels);
    let mut cells = BTreeMap::new();
    for cell in study.setting.parties.cells().filter(|&cell| labels[cell] == 1) {
        *cells.entry(study.setting.parties.of(cell)).or_default() += 1;
    }
    cells
}

fn named(study: &Study, party: Party) -> String {
    match party {
        Party::Parcel(_) => format!("{} ({})", study.party_name(party), owner(study, party)),
        Party::Road => "a road".to_owned(),
        Party::Unowned => "nobody in the parcel layer".to_owned(),
    }
}

fn owner(study: &Study, party: Party) -> &str {
    study.party_owner(party).unwrap_or("owner not given")
}
