//! Down the slope: the lands that the water crosses on its way to an outlet.

use std::collections::BTreeSet;

use fallwright_geodata::Projector;
use fallwright_network::{Carrier, Crossing, Party, Path, Share, Station, Trace, path as follow};
use fallwright_report::{Traced, metres};
use geo::{LineString, Point};
use serde_json::Value;

use super::{TraceFrom, TraceReport, feature, named, owner};
use crate::failure::Failure;
use crate::outlets::land_crossed;
use crate::place::{cell_at, parcel};
use crate::study::Study;
use crate::summary::{hectares, table};
use crate::works::{Works, end_words, outlet_words, works};

pub(super) fn leaving(study: &Study, from: &TraceFrom) -> Result<TraceReport, Failure> {
    let to_lonlat = Projector::to_lonlat(&study.inputs.crs)?;
    let mut lines = Vec::new();
    let mut features = Vec::new();
    let mut on_the_way = BTreeSet::new();
    match from {
        TraceFrom::Parcel(id) => {
            let parcel = parcel(study, id)?;
            lines.push(format!("water leaving parcel {id} ({})", owner(study, Party::Parcel(parcel))));
            for (number, share) in (1..).zip(&study.shares[parcel]) {
                if share.is_remainder {
                    lines.push(format!("remainder of small leaving points: {}", hectares(study.hectares(share.cells))));
                    continue;
                }
                lines.push(format!("share {number}: {}", hectares(study.hectares(share.cells))));
                let path = follow(&study.setting, share.leaving);
                lines.extend(path_lines(study, &path.trace));
                on_the_way.extend(works_on(study, &path.trace));
                features.extend(path_features(study, &path, Some((number, share)), &to_lonlat)?);
            }
            if study.shares[parcel].is_empty() {
                lines.push("no part of it lies on the elevation".to_owned());
            }
        }
        TraceFrom::Point(point) => {
            let cell = cell_at(study, *point)?;
            let land = named(study, study.setting.parties.of(cell));
            lines.push(format!("water from {}, {} on the land of {land}", point.x, point.y));
            let path = follow(&study.setting, cell);
            lines.extend(path_lines(study, &path.trace));
            on_the_way.extend(works_on(study, &path.trace));
            features.extend(path_features(study, &path, None, &to_lonlat)?);
        }
    }
    lines.extend(works_lines(&on_the_way));
    Ok(TraceReport { features, lines })
}

/// The lands that a path crosses, as a table, and where it ends.
fn path_lines(study: &Study, trace: &Trace) -> Vec<String> {
    let header = ["at m", "m on it", "fall m", "onto the land of", "carried by"].map(str::to_owned).to_vec();
    let row = |crossing: &Crossing| {
        let fall = if crossing.fall_m.is_nan() { "unknown".to_owned() } else { format!("{:.2}", crossing.fall_m) };
        let [at, on_it] = [crossing.distance_m, crossing.metres_on_land].map(|metres| format!("{metres:.1}"));
        vec![at, on_it, fall, named(study, crossing.to), works(study, crossing.carrier, crossing.to).label]
    };
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(trace.crossings.iter().map(row)).collect();
    let mut lines = if trace.crossings.is_empty() { Vec::new() } else { table(&rows) };
    lines.push(conclusion(study, trace));
    lines.into_iter().map(|line| format!("  {line}")).collect()
}

/// The works that carry a path's water, and the outlet that it meets.
fn works_on(study: &Study, trace: &Trace) -> Vec<Works> {
    let crossed = trace.crossings.iter().map(|crossing| works(study, crossing.carrier, crossing.to));
    crossed.chain(outlet_works(study, trace)).collect()
}

fn outlet_works(study: &Study, trace: &Trace) -> Option<Works> {
    let land = study.setting.parties.of(trace.last.cell);
    trace.outlet.map(|outlet| works(study, Carrier::Mapped(outlet), land))
}

fn works_lines(on_the_way: &BTreeSet<Works>) -> Vec<String> {
    if on_the_way.is_empty() {
        return Vec::new();
    }
    let header = ["carried by", "who may do maintenance", "who is told first"].map(str::to_owned).to_vec();
    let row = |works: &Works| vec![works.label.clone(), works.maintained_by.clone(), works.notified.clone()];
    let rows: Vec<Vec<String>> = std::iter::once(header).chain(on_the_way.iter().map(row)).collect();
    let title = "maintenance on the way".to_owned();
    std::iter::once(title).chain(table(&rows).into_iter().map(|line| format!("  {line}"))).collect()
}

/// The crossings as points, then the path as a line.
fn path_features(
    study: &Study,
    Path { stations, trace }: &Path,
    share: Option<(u32, &Share)>,
    to_lonlat: &Projector,
) -> Result<Vec<Value>, Failure> {
    let number = share.map(|(number, _)| number);
    let mut features = Vec::new();
    for (order, crossing) in (1..).zip(&trace.crossings) {
        let at = to_lonlat.geometry(&Point::new(crossing.x, crossing.y).into())?;
        let crossing = land_crossed(study, order, crossing);
        features.push(feature(Some(&at), &Traced::Crossing { share: number, crossing }));
    }
    let points: Vec<(f64, f64)> = stations.iter().map(|station: &Station| (station.x, station.y)).collect();
    let geometry = match &points[..] {
        [only] => Point::from(*only).into(),
        _ => LineString::from(points).into(),
    };
    let outlet = outlet_works(study, trace);
    let path = Traced::Path {
        share: number,
        hectares: share.map(|(_, share)| study.hectares(share.cells)),
        outlet_id: trace.outlet.map(|outlet| study.setting.feature_id(outlet).to_owned()),
        outlet_class: trace.outlet.map(|outlet| study.feature_class(outlet).to_owned()),
        path_m: metres(trace.length_m()),
        fall_m: metres(trace.fall_m()),
        outlet_maintained_by: outlet.as_ref().map(|works| works.maintained_by.clone()),
        outlet_notified: outlet.map(|works| works.notified),
    };
    features.push(feature(Some(&to_lonlat.geometry(&geometry)?), &path));
    Ok(features)
}

fn conclusion(study: &Study, trace: &Trace) -> String {
    let way = format!("after {:.0} m and {:.2} m of fall", trace.length_m(), trace.fall_m());
    match trace.outlet {
        Some(outlet) => format!("{way} it reaches {}", outlet_words(study, outlet)),
        None => format!("{way} it {}", end_words(trace.end)),
    }
}
