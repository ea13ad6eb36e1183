//! Places to check in the field, in plain words.

use std::collections::BTreeMap;

use geo::{Centroid, Euclidean, Geometry, InterpolatableLine, LineString};

use crate::case_records::CaseRecords;
use crate::layer::Record;
use crate::overview::DoubtOnPage;
use crate::plan::Plan;
use crate::records::terrain_change::{ChangeKind, TerrainChangeProperties};

/// Shallower lows are not worth a visit (our choice).
const DEEP_M: f64 = 0.3;

/// Suspected culverts of some consequence first, in their rank; then cuts that findings depend on; then
/// ponded lows.
pub(crate) fn doubts(results: &CaseRecords, plan: Plan, positions: &BTreeMap<&str, i64>) -> Vec<DoubtOnPage> {
    let mut listed: Vec<&Record<TerrainChangeProperties>> =
        results.changes.iter().filter(|change| is_doubtful(&change.properties)).collect();
    listed.sort_by_key(|change| (change.properties.rank.unwrap_or(usize::MAX), change.properties.kind));
    let position = |id: &str| positions.get(id).copied();
    let doubt = |change: &&Record<TerrainChangeProperties>| {
        let properties = &change.properties;
        let line = line_of(change.geometry.as_ref()?)?;
        Some(DoubtOnPage {
            id: properties.change_id.clone(),
            what: what(properties),
            advice: advice(properties).to_owned(),
            at: plan.decimetres(middle(change.geometry.as_ref()?, &line)),
            points: plan.thinned(&line, 1.0),
            parcels: properties.parcels.iter().filter_map(|id| position(id.as_str())).collect(),
            depends: properties.finding_depends.as_ref().map(|ids| ids.iter().filter_map(|id| position(id)).collect()),
            is_suspected_culvert: properties.suspected_culvert,
        })
    };
    listed.iter().filter_map(doubt).collect()
}

fn is_doubtful(change: &TerrainChangeProperties) -> bool {
    let depends = change.finding_depends.as_ref().is_some_and(|ids| !ids.is_empty());
    let deep = change.kind == ChangeKind::Fill && change.depth_m >= DEEP_M;
    change.rank.is_some() || depends || deep || change.kind == ChangeKind::Kept
}

fn what(change: &TerrainChangeProperties) -> String {
    let (depth, behind) = (change.depth_m, change.draining_ha);
    match (change.suspected_culvert, change.kind) {
        (true, ChangeKind::Cut) => {
            format!("Suspected culvert: {} {depth:.2} m high holds back {behind:.1} ha.", barrier(change))
        }
        (true, _) => {
            format!("Suspected culvert: water stands {depth:.2} m deep behind a road; {behind:.1} ha drain there.")
        }
        (false, ChangeKind::Cut) => {
            format!("A rise of {depth:.2} m was cut through so that {behind:.1} ha can drain on.")
        }
        (false, ChangeKind::Kept) => format!("A real hollow {depth:.2} m deep, where {behind:.1} ha end."),
        (false, _) => format!("A low {depth:.2} m deep that was filled; {behind:.1} ha drain through it."),
    }
}

/// What holds the water back, and which evidence of it is missing.
fn barrier(change: &TerrainChangeProperties) -> &'static str {
    match (change.on_road, change.embankment) {
        (Some(true), Some(true)) => "a road on an embankment",
        (Some(true), _) => "a road, though not an embankment by its shape,",
        (Some(false), Some(true)) => "an embankment, though not on a road of the layer,",
        (Some(false), _) => {
            "a rise at a channel's end, though neither on a road of the layer nor an embankment by its shape,"
        }
        (None, Some(true)) => "an embankment (the case has no roads)",
        (None, _) => "a rise at a channel's end, though not an embankment by its shape (the case has no roads),",
    }
}

fn advice(change: &TerrainChangeProperties) -> &'static str {
    match (change.suspected_culvert, change.kind) {
        (true, _) => "Go and look whether there is a culvert, and how large and how deep it is.",
        (false, ChangeKind::Cut) => "Go and look whether water really passes here.",
        (false, ChangeKind::Kept) => "It is no outlet unless one is cut or piped.",
        (false, _) => "Go and look whether water stands here, or a pipe or gap drains it.",
    }
}

/// The line of a cut, or the outline of an area.
fn line_of(geometry: &Geometry<f64>) -> Option<LineString<f64>> {
    match geometry {
        Geometry::LineString(line) => Some(line.clone()),
        Geometry::MultiLineString(lines) => lines.0.first().cloned(),
        Geometry::Polygon(polygon) => Some(polygon.exterior().clone()),
        Geometry::MultiPolygon(polygons) => polygons.0.first().map(|polygon| polygon.exterior().clone()),
        _ => None,
    }
}

fn middle(geometry: &Geometry<f64>, line: &LineString<f64>) -> (f64, f64) {
    let point = match geometry {
        Geometry::LineString(_) | Geometry::MultiLineString(_) => line.point_at_ratio_from_start(&Euclidean, 0.5),
        other => other.centroid(),
    };
    point.map_or((0.0, 0.0), Into::into)
}
