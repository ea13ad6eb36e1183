//! Maps for sheets, from what was worked out.

use std::sync::Arc;

use fallwright_case::Inputs;
use fallwright_network::Path;
use fallwright_units::ParcelIx;
use geo::{BoundingRect, Coord, Geometry, LineString, Rect, Simplify};

use crate::case_records::CaseRecords;
use crate::drawing::{MapLine, MapParcel, MapPath, MapSign, MapWater, Outline, SheetMap, SignKind};
use crate::palette::{standing_style, waterway_style};
use crate::relief::Relief;

/// Of the larger side of what a map is about, left free around it (our choice).
const FREE: f64 = 0.08;

/// Maps of a case: what every one of them shows is made once.
pub(crate) struct Maps<'a> {
    pub(crate) results: &'a CaseRecords<'a>,
    relief: Arc<Relief>,
    parcels: Arc<[MapParcel]>,
    /// Which parcel each of them is: one without a shape is on no map.
    positions: Vec<ParcelIx>,
    waters: Arc<[MapWater]>,
    lines: Arc<[MapLine]>,
}

impl<'a> Maps<'a> {
    pub(crate) fn of(results: &'a CaseRecords<'a>, relief: Relief) -> Self {
        let (positions, parcels): (Vec<ParcelIx>, Vec<MapParcel>) = parcels(results).unzip();
        Self {
            results,
            relief: relief.into(),
            parcels: parcels.into(),
            positions,
            waters: waters(results),
            lines: lines(results).into(),
        }
    }

    /// A map about an extent, without paths and signs; outlines by parcel.
    pub(crate) fn about(&self, about: Rect<f64>, outline: impl Fn(ParcelIx) -> Outline) -> SheetMap {
        SheetMap {
            extent: widened(about),
            relief: Arc::clone(&self.relief),
            parcels: Arc::clone(&self.parcels),
            outlines: self.positions.iter().map(|&parcel| outline(parcel)).collect(),
            waters: Arc::clone(&self.waters),
            lines: Arc::clone(&self.lines),
            paths: Vec::new(),
            signs: Vec::new(),
        }
    }
}

/// Parcels with a shape.
fn parcels(results: &CaseRecords) -> impl Iterator<Item = (ParcelIx, MapParcel)> {
    results.parcels.iter_enumerated().filter_map(|(parcel, record)| {
        let Some(Geometry::MultiPolygon(shape)) = &record.geometry else { return None };
        let (properties, finding) = (&record.properties, &results.standings.findings[parcel]);
        let label = properties.owner.clone().or_else(|| Some(properties.parcel_id.clone()));
        Some((parcel, MapParcel { shape: shape.clone(), style: standing_style(finding), label }))
    })
}

/// Lakes and wide rivers that are mapped as polygons.
pub(super) fn waters(results: &CaseRecords) -> Arc<[MapWater]> {
    let Inputs { waterways, profile, .. } = &*results.study.inputs;
    let polygons = waterways.iter().filter(|waterway| waterway.is_polygon());
    polygons
        .map(|waterway| MapWater {
            shape: waterway.shape.clone(),
            style: waterway_style(profile.class(&waterway.class)),
        })
        .collect()
}

/// Watershed limits, waterways, structures.
fn lines(results: &CaseRecords) -> Vec<MapLine> {
    let mut lines = Vec::new();
    for record in &results.watersheds {
        if let Some(Geometry::MultiPolygon(shape)) = &record.geometry {
            for polygon in shape {
                // Steps of single cells would swallow the dashes.
                let line = polygon.exterior().simplify(2.0 * results.study.setting.frame().cell_width());
                lines.push(MapLine { line, style: "watershed" });
            }
        }
    }
    let profile = &results.study.inputs.profile;
    for record in &results.reaches {
        if let Some(Geometry::LineString(line)) = &record.geometry {
            let class = &record.properties.class;
            lines.push(MapLine { line: line.clone(), style: waterway_style(profile.class(class)) });
        }
    }
    for record in &results.links {
        if let Some(Geometry::LineString(line)) = &record.geometry {
            lines.push(MapLine { line: line.clone(), style: "structure" });
        }
    }
    lines
}

/// The path of a share with start, end and a number where it enters other land.
pub(crate) fn add_main_path(map: &mut SheetMap, path: &Path) {
    let line = path_line(path);
    let (Some(&first), Some(&last)) = (line.0.first(), line.0.last()) else { return };
    map.signs.push(MapSign { at: last, kind: SignKind::End });
    for (number, crossing) in (1..).zip(&path.trace.crossings) {
        let at = Coord { x: crossing.x, y: crossing.y };
        map.signs.push(MapSign { at, kind: SignKind::Number(number.to_string()) });
    }
    map.signs.push(MapSign { at: first, kind: SignKind::Start });
    map.paths.push(MapPath { line, is_main: true });
}

pub(crate) fn path_line(path: &Path) -> LineString<f64> {
    path.stations.iter().map(|station| (station.x, station.y)).collect()
}

/// Extent of parcels and lines together.
pub(crate) fn extent_of<'a>(shapes: impl IntoIterator<Item = &'a Geometry<f64>>) -> Option<Rect<f64>> {
    let boxes = shapes.into_iter().filter_map(BoundingRect::bounding_rect);
    boxes.reduce(|a, b| {
        Rect::new(
            Coord { x: a.min().x.min(b.min().x), y: a.min().y.min(b.min().y) },
            Coord { x: a.max().x.max(b.max().x), y: a.max().y.max(b.max().y) },
        )
    })
}

fn widened(extent: Rect<f64>) -> Rect<f64> {
    let free = FREE * extent.width().max(extent.height()).max(100.0);
    let by = Coord { x: free, y: free };
    Rect::new(extent.min() - by, extent.max() + by)
}
