//! Where the conditioned surface departs from the ground.

use std::collections::BTreeSet;

use fallwright_geodata::outlines;
use fallwright_report::{Record, TerrainChangeProperties, metres};
use fallwright_terrain::{CHANNEL_INCISION_M, Conditioned, Cut, Depression, depressions, storage};
use fallwright_units::{Cell, Raster};
use geo::{LineString, MultiLineString};

use super::on_paths::parcels_crossing;
use crate::failure::Failure;
use crate::ground::spills_over_road;
use crate::study::Study;
use crate::suspect::{LEAST_HELD_BACK_M, is_suspected_culvert, released};

/// Shallower fills and cuts are only counted in `run.json` (our choice).
const LISTED_DEPTH_M: f64 = 0.05;

/// One change, and how it could be left out.
pub(super) struct Change {
    pub(super) record: Record<TerrainChangeProperties>,
    pub(super) undone: Option<Undone>,
}

/// A change and the cells that count for whose path crosses it.
type WithCells = (Change, Vec<Cell>);

/// The ground without a change.
#[derive(Clone, Copy, Debug)]
pub(super) enum Undone {
    /// The barrier before this pit is not cut.
    Uncut(Cell),
    /// Water stays in a depression, in its deepest cell.
    Unfilled(Cell),
}

/// What was filled, listed or not.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Filled {
    pub(crate) depressions: usize,
    pub(crate) volume_m3: f64,
}

/// How many cuts and fills are deep enough to be listed.
pub(crate) fn count_listed(conditioned: &Conditioned) -> usize {
    let fills = depressions(&conditioned.enforced, &conditioned.surface);
    let depths = fills.map(|fill| fill.depth_m).chain(conditioned.cuts.iter().map(|cut| cut.depth_m));
    depths.filter(|&depth_m| depth_m >= LISTED_DEPTH_M).count()
}

/// Fills, the deepest first; cuts through barriers, those that release most land first; beds of mapped channels; kept
/// depressions. And how much was filled in all.
pub(super) fn changes(study: &Study) -> Result<(Vec<Change>, Filled), Failure> {
    let conditioned = &study.setting.conditioned;
    let (mut filled, mut fills) = (Filled { depressions: 0, volume_m3: 0.0 }, Vec::new());
    for fill in depressions(&conditioned.enforced, &conditioned.surface) {
        filled.depressions += 1;
        filled.volume_m3 += fill.volume_m3;
        if fill.depth_m >= LISTED_DEPTH_M {
            fills.push(fill);
        }
    }
    fills.sort_by(|a, b| b.depth_m.total_cmp(&a.depth_m).then(a.deepest.cmp(&b.deepest)));
    let in_fill = labelled(study, fills.iter().map(|fill| &fill.cells[..]));
    let mut changes = self::fills(study, &fills, &in_fill)?;
    let others = barriers(study).into_iter().chain(channels(study)).chain(kept(study)?);
    let (others, courses): (Vec<Change>, Vec<Vec<Cell>>) = others.unzip();
    changes.extend(others);
    let crossing = parcels_crossing(study, &in_fill, fills.len(), &courses);
    for (change, parcels) in changes.iter_mut().zip(crossing) {
        let id = |parcel: usize| study.inputs.parcels[parcel].id.clone();
        change.record.properties.parcels = parcels.into_iter().map(id).collect();
    }
    rank(&mut changes);
    Ok((changes, filled))
}

/// Numbers the suspected culverts by the land that drains through them.
fn rank(changes: &mut [Change]) {
    let mut suspected: Vec<&mut TerrainChangeProperties> = changes
        .iter_mut()
        .map(|change| &mut change.record.properties)
        .filter(|properties| properties.suspected_culvert)
        .collect();
    suspected.sort_by(|a, b| b.draining_ha.total_cmp(&a.draining_ha));
    for (rank, properties) in (1..).zip(suspected) {
        properties.rank = Some(rank);
    }
}

/// A change of a kind with what can be said of any: its cells and the land that drains through them.
fn plain(study: &Study, change_id: String, kind: &'static str, cells: &[Cell]) -> TerrainChangeProperties {
    TerrainChangeProperties {
        change_id,
        kind,
        depth_m: 0.0,
        volume_m3: 0.0,
        area_ha: study.hectares(cells.len() as u64),
        length_m: None,
        level_m: None,
        waterway_id: None,
        draining_ha: study.hectares(cells.iter().map(|&cell| study.setting.area(cell)).max().unwrap_or(0)),
        search_cost_m: None,
        suspected_culvert: false,
        rank: None,
        parcels: Vec::new(),
        finding_depends: None,
    }
}

fn fills(study: &Study, listed: &[Depression], in_fill: &Raster<u32>) -> Result<Vec<Change>, Failure> {
    let conditioned = &study.setting.conditioned;
    let mut shapes = outlines(&in_fill.frame, &in_fill.values)?;
    let changes = (1_u32..).zip(listed).map(|(number, fill)| Change {
        record: Record {
            geometry: shapes.remove(&number).map(Into::into),
            properties: TerrainChangeProperties {
                depth_m: metres(fill.depth_m),
                volume_m3: metres(fill.volume_m3),
                level_m: Some(metres(fill.level_m)),
                suspected_culvert: fill.depth_m >= LEAST_HELD_BACK_M
                    && spills_over_road(conditioned, &study.setting.parties, fill),
                ..plain(study, format!("F{number}"), "fill", &fill.cells)
            },
        },
        undone: Some(Undone::Unfilled(fill.deepest)),
    });
    Ok(changes.collect())
}

/// For each cell the number of the area that it lies in, 1 for the first.
fn labelled<'a>(study: &Study, areas: impl Iterator<Item = &'a [Cell]>) -> Raster<u32> {
    let mut labels = Raster::filled(study.setting.frame(), 0_u32);
    for (label, cells) in (1_u32..).zip(areas) {
        for &cell in cells {
            labels[cell] = label;
        }
    }
    labels
}

fn barriers(study: &Study) -> Vec<WithCells> {
    let released = |cut: &Cut| released(&study.setting.ground, &study.setting.area, cut);
    let mut listed: Vec<&Cut> =
        study.setting.conditioned.cuts.iter().filter(|cut| cut.depth_m >= LISTED_DEPTH_M).collect();
    listed.sort_by_key(|cut| (std::cmp::Reverse(released(cut)), cut.way.path[0]));
    let frame = study.setting.frame();
    (1..)
        .zip(listed)
        .map(|(number, cut)| {
            let line: Vec<(f64, f64)> = cut.way.path.iter().map(|&cell| frame.centre(cell)).collect();
            let properties = TerrainChangeProperties {
                depth_m: metres(cut.depth_m),
                volume_m3: metres(cut.lowering_m * frame.cell_square_metres()),
                length_m: Some(metres(cut.way.length_m)),
                draining_ha: study.hectares(released(cut)),
                search_cost_m: Some(metres(cut.way.rise_sum_m)),
                suspected_culvert: is_suspected_culvert(&study.setting, cut),
                ..plain(study, format!("B{number}"), "cut", &cut.way.path)
            };
            let record = Record { geometry: Some(LineString::from(line).into()), properties };
            (Change { record, undone: Some(Undone::Uncut(cut.way.path[0])) }, cut.way.path.clone())
        })
        .collect()
}

/// One record for each waterway whose bed had to be lowered by more than its incision over more than one cell.
fn channels(study: &Study) -> Vec<WithCells> {
    let frame = study.setting.frame();
    let cut_m = |&cell: &Cell| {
        let bed = study.setting.conditioned.bed.get(&cell).copied().unwrap_or(f32::NAN);
        f64::from(study.setting.ground[cell]) - f64::from(bed)
    };
    let is_cut = |cell: &Cell| cut_m(cell) > f64::from(CHANNEL_INCISION_M) + LISTED_DEPTH_M;
    let mut changes = Vec::new();
    for waterway in &study.setting.waterways {
        let cells: BTreeSet<Cell> = waterway.chains.iter().flatten().copied().filter(is_cut).collect();
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
        let cells: Vec<Cell> = cells.into_iter().collect();
        let length_m: f64 = lines.iter().flat_map(LineString::lines).map(|edge| edge.dx().hypot(edge.dy())).sum();
        let properties = TerrainChangeProperties {
            depth_m: metres(cells.iter().map(cut_m).fold(0.0, f64::max)),
            volume_m3: metres(cells.iter().map(cut_m).sum::<f64>() * frame.cell_square_metres()),
            length_m: Some(metres(length_m)),
            waterway_id: Some(waterway.id.to_string()),
            ..plain(study, format!("C-{}", waterway.id), "cut", &cells)
        };
        let record = Record { geometry: Some(MultiLineString::new(lines).into()), properties };
        changes.push((Change { record, undone: None }, cells));
    }
    changes
}

fn kept(study: &Study) -> Result<Vec<WithCells>, Failure> {
    let conditioned = &study.setting.conditioned;
    let stored: Vec<_> = study
        .kept
        .iter()
        .filter_map(|&sink| Some((sink, storage(&conditioned.enforced, &conditioned.flow.links, sink)?)))
        .collect();
    if stored.is_empty() {
        return Ok(Vec::new());
    }
    let labels = labelled(study, stored.iter().map(|(_, storage)| &storage.cells[..]));
    let mut shapes = outlines(&labels.frame, &labels.values)?;
    let changes = (1_u32..).zip(&stored).map(|(number, (sink, storage))| {
        let cells = [&storage.cells[..], &[*sink]].concat();
        let properties = TerrainChangeProperties {
            depth_m: metres(storage.level_m - f64::from(conditioned.enforced[*sink])),
            volume_m3: metres(storage.fill_m * study.setting.frame().cell_square_metres()),
            level_m: Some(metres(storage.level_m)),
            area_ha: study.hectares(storage.cells.len() as u64),
            ..plain(study, format!("K{number}"), "kept", &cells)
        };
        let record = Record { geometry: shapes.remove(&number).map(Into::into), properties };
        (Change { record, undone: None }, cells)
    });
    Ok(changes.collect())
}
