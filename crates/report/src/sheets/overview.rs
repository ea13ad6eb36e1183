//! The overview page's content, from what was worked out.

use fallwright_case::Road;
use fallwright_network::{FlowLines, flow_lines, lands_crossed};
use fallwright_study::Study;
use fallwright_units::Cell;
use geo::{Geometry, LineString, MultiPolygon, Polygon};

use super::click::{Lengths, click_grid, spacing};
use super::page_parcels::{PageParcels, positions};
use super::{doubts, maps};
use crate::case_records::CaseRecords;
use crate::drawing::MapWater;
use crate::layer::Record;
use crate::overview::{
    ChannelOnPage, FlowLineOnPage, Furniture, LimitOnPage, Overview, Picture, RoadOnPage, StructureOnPage, Texts,
    WaterOnPage,
};
use crate::palette::waterway_style;
use crate::plan::{Plan, kept};
use crate::records::link::LinkProperties;
use crate::records::reach::ReachProperties;
use crate::records::watershed::WatershedProperties;
use crate::relief::{Relief, ReliefPicture};
use crate::rounded::metres;
use crate::words::{NO_PARCEL, road_words};

/// Lines are drawn where at least this much land drains (our choice), and on large cases where more does.
const LEAST_HA: f64 = 0.02;
const LEAST_POINTS: f64 = 4.0;
/// Ground levels along lines are kept to this, metres (our choice).
const LEVEL_M: f64 = 0.1;

pub(crate) fn overview(results: &CaseRecords, furniture: Furniture, relief: &Relief) -> Overview {
    let study = &results.study;
    let frame = study.setting.frame();
    let plan = Plan { west: frame.west(), south: frame.south() };
    let step_m = spacing(study) as f64 * frame.cell_width().max(frame.cell_height());
    let least_ha = LEAST_HA.max(LEAST_POINTS * step_m * step_m / 1e4);
    let least_cells = (least_ha / frame.hectares(1)).ceil() as u64;
    let starts: Vec<Cell> = study.shares.iter().flatten().map(|share| share.leaving).collect();
    let lines = flow_lines(&study.setting, &starts, least_cells);
    let lengths = Lengths::new(study, &lines);
    let positions = positions(results);
    let mut texts = Texts::default();
    let parcels = PageParcels { results, positions: &positions, plan, lines: &lines }.all(&mut texts);
    let click = click_grid(study, &lands_crossed(&study.setting), &lines, &lengths, &mut texts);
    let ReliefPicture { uri, cell_m, .. } = relief.whole();
    let tolerance_m = step_m / 2.0;
    let thinned = vec![
        format!(
            "A press on the map is answered for the nearest point of a grid of {step_m:.1} m. The lands crossed and the distance are worked out at full resolution ({:.1} m cells) for that very point.",
            frame.cell_width()
        ),
        format!(
            "Water paths are drawn to within {tolerance_m:.1} m in plan and {LEVEL_M} m in height; lines of flow begin where {least_ha:.2} ha drain, and the way down to them is drawn straight. Lengths and falls are those of the full path."
        ),
        format!(
            "The shape of the ground is drawn in cells of {:.1} m, heights eight times as large. Watershed limits are drawn to within {:.1} m.",
            cell_m,
            frame.cell_width()
        ),
    ];
    Overview {
        furniture,
        size_m: [frame.east() - frame.west(), frame.north() - frame.south()],
        corner: [frame.west(), frame.south()],
        parcels,
        no_parcel: NO_PARCEL,
        waters: waters(results, plan),
        channels: channels(results, plan),
        structures: structures(results, plan),
        roads: roads(study, plan),
        limits: limits(results, plan, frame.cell_width()),
        doubts: doubts::doubts(results, plan, &positions),
        notes: study.notes.iter().map(|note| format!("{}: {}; {}.", note.about, note.found, note.done)).collect(),
        lines: (0..lines.list.len())
            .map(|line| flow_line(study, &lines, &lengths, plan, (line, tolerance_m)))
            .collect(),
        click,
        shade: Picture { uri, cell_m },
        thinned,
        texts: texts.into_list(),
    }
}

fn waters(results: &CaseRecords, plan: Plan) -> Vec<WaterOnPage> {
    let on_page = |water: &MapWater| WaterOnPage { style: water.style, rings: rings(&water.shape, plan, 1.0) };
    maps::waters(results).iter().map(on_page).collect()
}

fn channels(results: &CaseRecords, plan: Plan) -> Vec<ChannelOnPage> {
    let profile = &results.study.inputs.profile;
    let channel = |record: &Record<ReachProperties>| {
        let Some(Geometry::LineString(line)) = &record.geometry else { return None };
        let reach = &record.properties;
        Some(ChannelOnPage {
            id: reach.reach_id.clone(),
            name: reach.name.clone(),
            class: reach.class.clone(),
            style: waterway_style(profile.class(&reach.class)),
            surface_ha: reach.surface_ha,
            points: plan.thinned(line, 1.0),
        })
    };
    results.reaches.iter().filter_map(channel).collect()
}

fn structures(results: &CaseRecords, plan: Plan) -> Vec<StructureOnPage> {
    let structure = |record: &Record<LinkProperties>| {
        let Some(Geometry::LineString(line)) = &record.geometry else { return None };
        let points = plan.thinned(line, 0.0);
        Some(StructureOnPage { id: record.properties.link_id.clone(), kind: record.properties.kind, points })
    };
    results.links.iter().filter_map(structure).collect()
}

fn roads(study: &Study, plan: Plan) -> Vec<RoadOnPage> {
    let road = |road: &Road| RoadOnPage { name: road_words(road), rings: rings(&road.shape, plan, 0.5) };
    study.inputs.roads.iter().map(road).collect()
}

fn limits(results: &CaseRecords, plan: Plan, tolerance_m: f64) -> Vec<LimitOnPage> {
    let limit = |record: &Record<WatershedProperties>| {
        let Some(Geometry::MultiPolygon(shape)) = &record.geometry else { return None };
        let watershed = &record.properties;
        Some(LimitOnPage {
            outlet: watershed.outlet_id.clone(),
            name: watershed.name.clone(),
            area_ha: watershed.area_ha,
            rings: rings(shape, plan, tolerance_m),
        })
    };
    results.watersheds.iter().filter_map(limit).collect()
}

fn rings(shape: &MultiPolygon<f64>, plan: Plan, tolerance_m: f64) -> Vec<Vec<i64>> {
    let all = |polygon: &Polygon<f64>| -> Vec<LineString<f64>> {
        std::iter::once(polygon.exterior()).chain(polygon.interiors()).cloned().collect()
    };
    shape.iter().flat_map(all).map(|ring| plan.thinned(&ring, tolerance_m)).collect()
}

fn flow_line(
    study: &Study,
    lines: &FlowLines,
    lengths: &Lengths,
    plan: Plan,
    (position, tolerance_m): (usize, f64),
) -> FlowLineOnPage {
    let line = &lines.list[position];
    let mut before = 0.0;
    let points: Vec<(f64, f64, f64)> = line
        .cells
        .iter()
        .map(|&cell| {
            let ((x, y), z) = (study.setting.frame().centre(cell), f64::from(study.setting.ground[cell]));
            before = if z.is_nan() { before } else { z };
            (x, y, before)
        })
        .collect();
    let mut packed = Vec::new();
    let mut last = [0, 0, 0];
    for kept in kept(&points, tolerance_m, LEVEL_M) {
        let (x, y, z) = points[kept];
        let [east, north] = plan.decimetres((x, y));
        let here = [east, north, (z * 100.0).round() as i64];
        packed.extend([0, 1, 2].map(|axis| here[axis] - last[axis]));
        last = here;
    }
    FlowLineOnPage {
        next: line.next.map_or(-1, |next| next as i64),
        length_m: metres(lengths.line_m(position)),
        points: packed,
    }
}
