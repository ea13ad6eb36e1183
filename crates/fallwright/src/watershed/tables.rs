//! What is written and printed of a watershed.

use std::collections::BTreeMap;
use std::path::Path;

use fallwright_geodata::outlines;
use fallwright_network::Party;
use fallwright_report::{Decimal, Record, WatershedLandRow, WatershedParcelRow, WatershedPartProperties, rows_csv};

use super::lands::{Comparison, Land};
use super::parts::{Part, Parts};
use super::tally::{Tally, sum};
use crate::failure::Failure;
use crate::study::Study;
use crate::summary::{counted, hectares};

/// Lands below this are not told one by one (our choice); the tables hold them all.
const TOLD_HA: f64 = 0.05;

/// The whole first, then each reach; for a point on a waterway, last what joins it farther down.
pub(super) fn records(
    study: &Study,
    parts: &Parts,
    tally: &Tally,
) -> Result<Vec<Record<WatershedPartProperties>>, Failure> {
    let frame = &parts.labels.frame;
    let whole: Vec<u32> = parts.labels.values.iter().map(|&label| u32::from(parts.is_inside(label))).collect();
    let shape = outlines(frame, &whole)?.remove(&1);
    let properties =
        |part: &'static str, reach: Option<usize>, is_meant: &dyn Fn(u32) -> bool| WatershedPartProperties {
            part,
            outlet_id: parts.outlet.clone(),
            reach_id: reach.map(|reach| study.reaches.list[reach].id.to_string()),
            surface_ha: study.hectares(sum(&tally.surface, is_meant)),
            piped_ha: study.hectares(sum(&tally.piped, is_meant)),
            meets_edge: tally.meets_edge.iter().any(|&(_, label)| is_meant(label)),
        };
    let mut records = vec![Record {
        geometry: shape.map(Into::into),
        properties: properties("whole", None, &|label| parts.is_inside(label)),
    }];
    let more = parts.list.iter().any(|part| *part != Part::Upstream);
    let mut shapes = if more { outlines(frame, &parts.labels.values)? } else { BTreeMap::new() };
    for (label, &part) in (1_u32..).zip(&parts.list).filter(|(_, part)| **part != Part::Upstream) {
        let reach = if let Part::Reach(reach) = part { Some(reach) } else { None };
        records.push(Record {
            geometry: shapes.remove(&label).map(Into::into),
            properties: properties(part.name(), reach, &|other| other == label),
        });
    }
    Ok(records)
}

pub(super) fn parcels_csv(study: &Study, parts: &Parts, tally: &Tally) -> String {
    rows_csv(tally.keys().into_iter().map(|(party, label)| {
        let part = parts.part(label);
        let reach = if let Part::Reach(reach) = part { Some(&study.reaches.list[reach].id) } else { None };
        let of = |cells: &BTreeMap<(Party, u32), u64>| study.hectares(cells.get(&(party, label)).copied().unwrap_or(0));
        WatershedParcelRow {
            parcel_id: study.party_name(party).into(),
            owner: study.party_owner(party).map(Into::into),
            part: part.name(),
            reach_id: reach.map(|reach| reach.to_string().into()),
            surface_ha: Decimal(of(&tally.surface)),
            piped_ha: Decimal(of(&tally.piped)),
            meets_edge: tally.meets_edge.contains(&(party, label)),
        }
    }))
}

pub(super) fn lands_csv(lands: &[Land]) -> String {
    rows_csv(lands.iter().map(|land| {
        let difference = land.assessed_ha.map(|assessed| fallwright_report::hectares(land.drains_ha - assessed));
        WatershedLandRow {
            parcel_id: (&land.id).into(),
            owner: land.owner.as_ref().map(Into::into),
            surface_ha: Decimal(land.surface_ha),
            piped_ha: Decimal(land.piped_ha),
            drains_ha: Decimal(land.drains_ha),
            meets_edge: land.meets_edge,
            unknown_ha: Decimal(land.unknown_ha),
            assessed_ha: land.assessed_ha.map(Decimal),
            measured_less_assessed_ha: difference.map(Decimal),
            compared: land.compared.code(),
        }
    }))
}

pub(super) fn lines(
    study: &Study,
    parts: &Parts,
    records: &[Record<WatershedPartProperties>],
    lands: &[Land],
    out: &Path,
) -> Vec<String> {
    let whole = &records[0].properties;
    let (x, y) = study.setting.frame().centre(parts.at);
    let what = parts.outlet.clone().unwrap_or_else(|| format!("{x:.1}, {y:.1}"));
    let mut lines = vec![format!(
        "watershed of {what}: {} on the surface, {} drained to it by pipe",
        hectares(whole.surface_ha),
        hectares(whole.piped_ha)
    )];
    for record in &records[1..] {
        let part = &record.properties;
        let name = part.reach_id.as_ref().map_or("joins it farther down".to_owned(), |reach| format!("reach {reach}"));
        lines.push(format!("  {name:<21} {:>12} {:>12} piped", hectares(part.surface_ha), hectares(part.piped_ha)));
    }
    lines.extend(schedule_lines(lands));
    if whole.meets_edge {
        let at_edge: Vec<&str> = lands.iter().filter(|land| land.meets_edge).map(|land| land.id.as_str()).collect();
        lines.push(format!(
            "  its limit meets the edge of the elevation at {}: hectares beyond are unknown",
            at_edge.join(", ")
        ));
    }
    lines.push(format!(
        "Written to {}: watershed.geojson, watershed_parcels.csv, watershed_lands.csv ({}, {})",
        out.display(),
        counted(records.len(), "part", "parts"),
        counted(lands.len(), "land", "lands")
    ));
    lines.push(fallwright_report::CAUTION.to_owned());
    lines
}

/// Nothing where no schedule was compared.
fn schedule_lines(lands: &[Land]) -> Vec<String> {
    let of = |compared: Comparison| lands.iter().filter(move |land| land.compared == compared);
    let assessed: f64 = lands.iter().filter_map(|land| land.assessed_ha).sum();
    let measured: f64 = of(Comparison::InBoth).map(|land| land.drains_ha).sum();
    if lands.iter().all(|land| land.assessed_ha.is_none()) {
        return Vec::new();
    }
    let mut lines = vec![format!(
        "  its schedule assesses {}; of the lands in it that drain here {} do",
        hectares(assessed),
        hectares(measured)
    )];
    for (compared, words) in [
        (Comparison::NotInSchedule, "drain here and are not in the schedule"),
        (Comparison::NotInWatershed, "are in the schedule and do not drain here"),
        (Comparison::NotInParcelLayer, "are in the schedule and not in the parcel layer"),
    ] {
        let area = |land: &Land| {
            if compared == Comparison::NotInSchedule { land.drains_ha } else { land.assessed_ha.unwrap_or(0.0) }
        };
        let told: Vec<String> = of(compared)
            .filter(|land| area(land) >= TOLD_HA)
            .map(|land| format!("{} ({})", land.id, hectares(area(land))))
            .collect();
        if !told.is_empty() {
            lines.push(format!("  {} {words}: {}", counted(told.len(), "land", "lands"), told.join(", ")));
        }
    }
    lines
}
