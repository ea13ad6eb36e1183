//! Where the conditioned surface departs from the ground.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::outlines;
use fallwright_network::Party;
use fallwright_report::{Record, TerrainChangeProperties, metres};
use fallwright_terrain::{CHANNEL_INCISION_M, Depression, depressions};
use fallwright_units::{Cell, Raster};
use geo::{LineString, MultiLineString};

use crate::failure::Failure;
use crate::study::Study;

/// Shallower fills smaller than the area below are not listed (our choice).
const LISTED_DEPTH_M: f64 = 0.05;
const LISTED_HA: f64 = 0.05;

/// Fills, the deepest first, then the beds of mapped channels.
pub(super) fn records(study: &Study) -> Result<Vec<Record<TerrainChangeProperties>>, Failure> {
    let on_paths = parcels_by_cell(study);
    let mut records = fills(study, &on_paths)?;
    records.extend(cuts(study, &on_paths));
    Ok(records)
}

/// For each cell on a share's path to its outlet, the parcels.
fn parcels_by_cell(study: &Study) -> BTreeMap<Cell, BTreeSet<usize>> {
    let mut parcels: BTreeMap<Cell, BTreeSet<usize>> = BTreeMap::new();
    for (parcel, traces) in study.traces.iter().enumerate() {
        for station in traces.iter().flat_map(|trace| &trace.stations) {
            parcels.entry(station.cell).or_default().insert(parcel);
        }
    }
    parcels
}

fn fills(
    study: &Study,
    on_paths: &BTreeMap<Cell, BTreeSet<usize>>,
) -> Result<Vec<Record<TerrainChangeProperties>>, Failure> {
    let conditioned = &study.setting.conditioned;
    let mut listed: Vec<Depression> = depressions(&conditioned.enforced, &conditioned.surface);
    listed.retain(|fill| fill.depth_m >= LISTED_DEPTH_M || study.hectares(fill.cells.len() as u64) >= LISTED_HA);
    listed.sort_by(|a, b| b.depth_m.total_cmp(&a.depth_m).then(a.deepest.cmp(&b.deepest)));
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    for (label, fill) in (1_u32..).zip(&listed) {
        for &cell in &fill.cells {
            labels[cell] = label;
        }
    }
    let mut shapes = outlines(&labels.frame, &labels.values)?;
    let records = (1_u32..).zip(&listed).map(|(label, fill)| Record {
        geometry: shapes.remove(&label).map(Into::into),
        properties: TerrainChangeProperties {
            change_id: format!("F{label}"),
            kind: "fill",
            depth_m: metres(fill.depth_m),
            volume_m3: metres(fill.volume_m3),
            area_ha: study.hectares(fill.cells.len() as u64),
            length_m: None,
            level_m: Some(metres(fill.level_m)),
            waterway_id: None,
            draining_ha: study.hectares(fill.cells.iter().map(|&cell| study.setting.area[cell]).max().unwrap_or(0)),
            suspected_culvert: leaves_over_road(study, fill),
            parcels: names(study, fill.cells.iter(), on_paths),
        },
    });
    Ok(records.collect())
}

/// Whether water that stands in the fill leaves it over a road: the path from its deepest cell crosses one before it is
/// lower than the fill's level.
fn leaves_over_road(study: &Study, fill: &Depression) -> bool {
    let surface = &study.setting.conditioned.surface;
    study
        .setting
        .conditioned
        .flow
        .path(fill.deepest)
        .take_while(|&cell| f64::from(surface[cell]) >= fill.level_m)
        .any(|cell| study.setting.parties.of(cell) == Party::Road)
}

fn names<'a>(
    study: &Study,
    cells: impl Iterator<Item = &'a Cell>,
    on_paths: &BTreeMap<Cell, BTreeSet<usize>>,
) -> Vec<String> {
    let parcels: BTreeSet<usize> = cells.filter_map(|cell| on_paths.get(cell)).flatten().copied().collect();
    parcels.into_iter().map(|parcel| study.inputs.parcels[parcel].id.to_string()).collect()
}

/// One record for each waterway whose bed had to be lowered by more than its incision over more than one cell.
fn cuts(study: &Study, on_paths: &BTreeMap<Cell, BTreeSet<usize>>) -> Vec<Record<TerrainChangeProperties>> {
    let frame = study.setting.frame();
    let cut_m = |&cell: &Cell| {
        let bed = study.setting.conditioned.bed.get(&cell).copied().unwrap_or(f32::NAN);
        f64::from(study.setting.ground[cell]) - f64::from(bed)
    };
    let is_cut = |cell: &Cell| cut_m(cell) > f64::from(CHANNEL_INCISION_M) + LISTED_DEPTH_M;
    let mut records = Vec::new();
    for waterway in &study.setting.waterways {
        let cells: BTreeSet<Cell> = waterway.chains.iter().flatten().copied().filter(is_cut).collect();
        let Some(depth_m) = cells.iter().map(cut_m).max_by(f64::total_cmp) else { continue };
        let lines: Vec<LineString<f64>> = waterway
            .chains
            .iter()
            .flat_map(|chain| chain.chunk_by(|a, b| cells.contains(a) == cells.contains(b)))
            .filter(|stretch| stretch.len() > 1 && cells.contains(&stretch[0]))
            .map(|stretch| LineString::from(stretch.iter().map(|&cell| frame.centre(cell)).collect::<Vec<_>>()))
            .collect();
        if lines.is_empty() {
            continue;
        }
        let length_m: f64 = lines.iter().flat_map(LineString::lines).map(|edge| edge.dx().hypot(edge.dy())).sum();
        records.push(Record {
            geometry: Some(MultiLineString::new(lines).into()),
            properties: TerrainChangeProperties {
                change_id: format!("C-{}", waterway.id),
                kind: "cut",
                depth_m: metres(depth_m),
                volume_m3: metres(cells.iter().map(cut_m).sum::<f64>() * frame.cell_square_metres()),
                area_ha: study.hectares(cells.len() as u64),
                length_m: Some(metres(length_m)),
                level_m: None,
                waterway_id: Some(waterway.id.to_string()),
                draining_ha: study.hectares(cells.iter().map(|&cell| study.setting.area[cell]).max().unwrap_or(0)),
                suspected_culvert: false,
                parcels: names(study, cells.iter(), on_paths),
            },
        });
    }
    records
}
