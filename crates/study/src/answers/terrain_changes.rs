//! Where the conditioned surface departs from the ground, and whose water crosses the place.

mod on_paths;

use std::collections::BTreeSet;

use fallwright_geodata::outlines;
use fallwright_network::draining_through;
use fallwright_terrain::{CHANNEL_INCISION_M, Conditioned, Cut, Depression, depressions, kept_pools};
use fallwright_units::{Cell, ParcelIx, Raster, WaterwayIx};
use geo::{Area, Geometry, LineString, MultiLineString};

use self::on_paths::parcels_crossing;
use crate::error::StudyError;
use crate::study::Study;
use crate::suspected_culvert::{CulvertEvidence, evidence_of_fill, released};

/// Shallower fills and cuts are only counted in `run.json` (our choice).
const LISTED_DEPTH_M: f64 = 0.05;

/// Of what kind a change is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChangeKind {
    Fill,
    Cut,
    /// A real depression that is not filled.
    Kept,
}

/// One change, and how it could be left out.
pub struct TerrainChange {
    pub id: String,
    pub kind: ChangeKind,
    /// In the case's reference system.
    pub geometry: Option<Geometry<f64>>,
    pub depth_m: f64,
    pub volume_m3: f64,
    pub cells: u64,
    /// Of a cut, along its channel.
    pub length_m: Option<f64>,
    /// Of a fill or a kept depression: the level at which it spills.
    pub level_m: Option<f64>,
    /// Of a cut along a mapped channel: the waterway whose bed was enforced.
    pub waterway: Option<WaterwayIx>,
    /// Cells whose water runs through it, each counted once; of a cut through a barrier those that it releases.
    pub draining: u64,
    /// Of a cut through a barrier: how far its path rises above the pit, summed over its cells, metres.
    pub rise_sum_m: Option<f64>,
    /// Why a culvert may be missing from the data here, if so.
    pub suspected_culvert: Option<CulvertEvidence>,
    /// Among the suspected culverts of some consequence, 1 for the one on which most depends.
    pub rank: Option<usize>,
    /// The parcels with a share whose path to its outlet crosses it.
    pub parcels: Vec<ParcelIx>,
    /// The parcels whose finding changes without it; `None` where that was not worked out.
    pub depending: Option<Vec<ParcelIx>>,
    /// Cells whose water takes another way without it, none where no finding can change by that; `None` where that was not
    /// worked out.
    pub rerouted: Option<u64>,
    pub(crate) undone: Option<Undone>,
}

/// What changes without a cut or a fill, the weightiest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Consequence {
    None,
    /// Whose water comes where, and no finding as far as is known.
    Watershed,
    Finding,
}

impl TerrainChange {
    /// `None` where it was not worked out.
    pub fn consequence(&self) -> Option<Consequence> {
        let depends = self.depending.as_ref().is_some_and(|parcels| !parcels.is_empty());
        self.rerouted.map(|cells| match (depends, cells) {
            (true, _) => Consequence::Finding,
            (false, 0) => Consequence::None,
            (false, _) => Consequence::Watershed,
        })
    }
}

/// A change and the cells that count for whose path crosses it.
type WithCells = (TerrainChange, Vec<Cell>);

/// The ground without a change.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Undone {
    /// The barrier before this pit is not cut.
    Uncut(Cell),
    /// Water stays in a depression, in its deepest cell.
    Unfilled(Cell),
}

/// What was filled, listed or not.
#[derive(Clone, Copy, Debug)]
pub struct Filled {
    pub depressions: usize,
    pub volume_m3: f64,
}

/// How many cuts and fills are deep enough to be listed.
pub fn count_listed(conditioned: &Conditioned) -> usize {
    let fills = depressions(&conditioned.enforced, &conditioned.surface);
    let depths = fills.map(|fill| fill.depth_m).chain(conditioned.cuts.iter().map(|cut| cut.depth_m));
    depths.filter(|&depth_m| depth_m >= LISTED_DEPTH_M).count()
}

/// Fills, the deepest first; cuts through barriers, those that release most land first; beds of mapped channels; kept
/// depressions. And how much was filled in all.
pub(crate) fn terrain_changes(study: &Study) -> Result<(Vec<TerrainChange>, Filled), StudyError> {
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
    let (others, courses): (Vec<TerrainChange>, Vec<Vec<Cell>>) = others.unzip();
    changes.extend(others);
    let crossing = parcels_crossing(study, &in_fill, fills.len(), &courses);
    for (change, parcels) in changes.iter_mut().zip(crossing) {
        change.parcels = parcels;
    }
    Ok((changes, filled))
}

/// Numbers the suspected culverts of some consequence: by the land whose finding changes without them, then by the land whose
/// water takes another way, then by the land that drains through them.
pub(crate) fn rank(study: &Study, changes: &mut [TerrainChange]) {
    let square_metres = |parcel: &ParcelIx| study.inputs.parcels[*parcel].shape.unsigned_area();
    let of_consequence = |change: &&mut TerrainChange| {
        change.suspected_culvert.is_some() && change.consequence() != Some(Consequence::None)
    };
    let mut suspected: Vec<(f64, &mut TerrainChange)> = changes
        .iter_mut()
        .filter(of_consequence)
        .map(|change| (change.depending.iter().flatten().map(square_metres).sum(), change))
        .collect();
    let rest = |change: &TerrainChange| (change.rerouted, change.draining);
    suspected.sort_by(|(a_m2, a), (b_m2, b)| b_m2.total_cmp(a_m2).then_with(|| rest(b).cmp(&rest(a))));
    for (rank, (_, change)) in (1..).zip(suspected) {
        change.rank = Some(rank);
    }
}

/// A change of a kind with what any has, the land that drains through it not counted yet.
fn plain(id: String, kind: ChangeKind, cells: &[Cell]) -> TerrainChange {
    TerrainChange {
        id,
        kind,
        geometry: None,
        depth_m: 0.0,
        volume_m3: 0.0,
        cells: cells.len() as u64,
        length_m: None,
        level_m: None,
        waterway: None,
        draining: 0,
        rise_sum_m: None,
        suspected_culvert: None,
        rank: None,
        parcels: Vec::new(),
        depending: None,
        rerouted: None,
        undone: None,
    }
}

fn fills(study: &Study, listed: &[Depression], in_fill: &Raster<u32>) -> Result<Vec<TerrainChange>, StudyError> {
    let mut shapes = outlines(&in_fill.frame, &in_fill.values)?;
    let areas: Vec<&[Cell]> = listed.iter().map(|fill| &fill.cells[..]).collect();
    let draining = draining_through(&study.setting, &areas);
    let changes = (1_u32..).zip(listed).zip(draining).map(|((number, fill), draining)| TerrainChange {
        geometry: shapes.remove(&number).map(Into::into),
        depth_m: fill.depth_m,
        volume_m3: fill.volume_m3,
        level_m: Some(fill.level_m),
        suspected_culvert: evidence_of_fill(&study.setting, fill),
        draining,
        undone: Some(Undone::Unfilled(fill.deepest)),
        ..plain(format!("F{number}"), ChangeKind::Fill, &fill.cells)
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
            let change = TerrainChange {
                geometry: Some(LineString::from(line).into()),
                depth_m: cut.depth_m,
                volume_m3: cut.lowering_m * frame.cell_square_metres(),
                length_m: Some(cut.way.length_m),
                draining: released(cut),
                rise_sum_m: Some(cut.way.rise_sum_m),
                suspected_culvert: study.suspected.of(cut),
                undone: Some(Undone::Uncut(cut.way.path[0])),
                ..plain(format!("B{number}"), ChangeKind::Cut, &cut.way.path)
            };
            (change, cut.way.path.clone())
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
    for (position, waterway) in study.setting.waterways.iter_enumerated() {
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
        let change = TerrainChange {
            geometry: Some(MultiLineString::new(lines).into()),
            depth_m: cells.iter().map(cut_m).fold(0.0, f64::max),
            volume_m3: cells.iter().map(cut_m).sum::<f64>() * frame.cell_square_metres(),
            length_m: Some(length_m),
            waterway: Some(position),
            ..plain(format!("C-{}", waterway.id), ChangeKind::Cut, &cells)
        };
        changes.push((change, cells));
    }
    count_draining(study, &mut changes);
    changes
}

fn count_draining(study: &Study, changes: &mut [WithCells]) {
    let areas: Vec<&[Cell]> = changes.iter().map(|(_, cells)| &cells[..]).collect();
    let draining = draining_through(&study.setting, &areas);
    for ((change, _), draining) in changes.iter_mut().zip(draining) {
        change.draining = draining;
    }
}

fn kept(study: &Study) -> Result<Vec<WithCells>, StudyError> {
    let conditioned = &study.setting.conditioned;
    let pools = kept_pools(&conditioned.enforced, &conditioned.flow.links, &study.kept);
    if pools.is_empty() {
        return Ok(Vec::new());
    }
    let labels = labelled(study, pools.iter().map(|pool| &pool.cells[..]));
    let mut shapes = outlines(&labels.frame, &labels.values)?;
    let changes = (1_u32..).zip(&pools).map(|(number, pool)| {
        let cells = [&pool.cells[..], &[pool.sink]].concat();
        let change = TerrainChange {
            geometry: shapes.remove(&number).map(Into::into),
            depth_m: pool.level_m - f64::from(conditioned.enforced[pool.sink]),
            volume_m3: pool.fill_m * study.setting.frame().cell_square_metres(),
            level_m: Some(pool.level_m),
            cells: pool.cells.len() as u64,
            ..plain(format!("K{number}"), ChangeKind::Kept, &cells)
        };
        (change, cells)
    });
    let mut changes: Vec<WithCells> = changes.collect();
    count_draining(study, &mut changes);
    Ok(changes)
}
