//! Records of a watershed and its parts.

use std::collections::BTreeMap;

use fallwright_geodata::outlines;
use fallwright_study::{Study, Watershed, WatershedPart, sum};
use fallwright_units::ReachIx;

use crate::error::WriteError;
use crate::layer::Record;
use crate::records::watershed::WatershedPartProperties;

/// The whole first, then each reach; for a point on a waterway, last what joins it farther down.
pub(crate) fn records(
    study: &Study,
    Watershed { parts, tally, .. }: &Watershed,
) -> Result<Vec<Record<WatershedPartProperties>>, WriteError> {
    let frame = &parts.labels.frame;
    let whole: Vec<u32> = parts.labels.values.iter().map(|&label| u32::from(parts.is_inside(label))).collect();
    let shape = outlines(frame, &whole)?.remove(&1);
    let properties =
        |part: &'static str, reach: Option<ReachIx>, is_meant: &dyn Fn(u32) -> bool| WatershedPartProperties {
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
    let more = parts.list.iter().any(|part| *part != WatershedPart::Upstream);
    let mut shapes = if more { outlines(frame, &parts.labels.values)? } else { BTreeMap::new() };
    for (label, &part) in (1_u32..).zip(&parts.list).filter(|(_, part)| **part != WatershedPart::Upstream) {
        let reach = if let WatershedPart::Reach(reach) = part { Some(reach) } else { None };
        records.push(Record {
            geometry: shapes.remove(&label).map(Into::into),
            properties: properties(part.name(), reach, &|other| other == label),
        });
    }
    Ok(records)
}
