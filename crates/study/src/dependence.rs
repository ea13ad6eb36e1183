//! Which findings depend on a cut or a fill: everything worked out anew without it.

mod rerouted;
mod same_barrier;

use std::collections::{BTreeMap, BTreeSet};

use fallwright_case::Progress;
use fallwright_geodata::release_free_memory;
use fallwright_law::{Conclusion, Finding, ParcelFacts};
use fallwright_network::draining_through;
use fallwright_terrain::{Revised, RevisionBase};
use fallwright_units::{Cell, ParcelIx, SQUARE_METRES_PER_HECTARE};
use rayon::prelude::*;
use typed_index_collections::TiSlice;

use self::rerouted::is_harmless;
use self::same_barrier::{Barriers, SameBarrier};
use crate::answers::terrain_changes::{TerrainChange, Undone};
use crate::facts::each_facts;
use crate::study::{SMALL_SHARE_HA, Study, channel_test, size};

/// Fills in `depending` of cuts and fills. Those by which no finding can change are sorted out first, where the water
/// turns; the others are worked out: suspected culverts first, then those through which most land drains, as many as
/// [`CaseSize::most_changes`](fallwright_case::CaseSize::most_changes) allows. Cuts that let the same water through are left out together, and worked out once.
///
/// A change that turns less than the least share of a parcel, 0.05 ha, decides nothing.
///
/// *Complexity*: O(m log m) in the cells that differ without each change or cuts that belong together, and O(n) for n cells
/// for each of those worked out.
pub(crate) fn work_out_dependence(
    study: &Study,
    findings: &TiSlice<ParcelIx, Finding>,
    changes: &mut [TerrainChange],
    progress: Progress,
) {
    let mut open = undecided_changes(study, changes);
    release_free_memory();
    let count = open.len();
    // Each holds the whole raster.
    let at_once = (MOST_CELLS_AT_ONCE / study.setting.frame().len()).clamp(1, MOST_AT_ONCE);
    while let Some((same, _)) = open.first() {
        let (first, number) = (&changes[same[0]].id, count - open.len() + 1);
        progress(&format!("judging without the change {first} ({number} of {count})"));
        let some = open.drain(..at_once.min(open.len())).collect::<Vec<_>>().into_par_iter();
        let found = some.map(|(same, revised)| (same, depending(study, findings, revised)));
        for (same, depending) in found.collect::<Vec<_>>() {
            for position in same {
                changes[position].depending = Some(depending.clone());
            }
        }
    }
}

/// Cells of all that is worked out at once without changes, besides the case itself: about 80 MB (our choice).
const MOST_CELLS_AT_ONCE: usize = 4_000_000;
/// So that progress is shown between (our choice).
const MOST_AT_ONCE: usize = 16;

/// Fills in the changes that decide nothing. Returns the others, as many as are worked out: the positions of those that are
/// left out together, and what differs without them.
fn undecided_changes(study: &Study, changes: &mut [TerrainChange]) -> Vec<(Vec<usize>, Revised)> {
    let terrain = Terrain { base: study.revision_base(), barriers: Barriers::find(study) };
    let frame = study.setting.frame();
    let channel_cells = channel_test(&study.inputs, &study.setting).cells;
    let least = (SMALL_SHARE_HA * SQUARE_METRES_PER_HECTARE / frame.cell_square_metres()).ceil() as u64;
    let turned = |left_out| {
        let directions = terrain.without(left_out).direction;
        let is_harmless = is_harmless(&study.setting, &directions, channel_cells, least);
        (!is_harmless).then(|| directions.into_keys().collect::<Vec<Cell>>())
    };
    let left_out = |change: &TerrainChange| change.undone.map(|undone| terrain.left_out(undone));
    let left_out: Vec<Option<LeftOut>> = changes.par_iter().map(left_out).collect();
    let each: BTreeSet<&LeftOut> = left_out.iter().flatten().collect();
    let turned = each.into_par_iter().filter_map(|each| Some((each, turned(each)?)));
    let (deciding, turned): (Vec<&LeftOut>, Vec<Vec<Cell>>) = turned.unzip();
    let turned: Vec<&[Cell]> = turned.iter().map(Vec::as_slice).collect();
    let rerouted: BTreeMap<&LeftOut, u64> =
        deciding.into_iter().zip(draining_through(&study.setting, &turned)).collect();
    let mut open: Vec<(usize, &LeftOut)> = Vec::new();
    for (position, (change, left_out)) in changes.iter_mut().zip(&left_out).enumerate() {
        let Some(left_out) = left_out else { continue };
        change.rerouted = Some(rerouted.get(left_out).copied().unwrap_or(0));
        if rerouted.contains_key(left_out) {
            open.push((position, left_out));
        } else {
            change.depending = Some(Vec::new());
        }
    }
    open.sort_by(|&(a, _), &(b, _)| {
        let (a, b) = (&changes[a], &changes[b]);
        let first = |change: &TerrainChange| (change.suspected_culvert.is_some(), change.draining);
        first(b).cmp(&first(a))
    });
    open.truncate(size(&study.inputs, &study.setting).most_changes());
    let mut same: BTreeMap<&LeftOut, Vec<usize>> = BTreeMap::new();
    for &(position, left_out) in &open {
        same.entry(left_out).or_default().push(position);
    }
    let revised = |(_, left_out)| Some((same.remove(left_out)?, terrain.without(left_out)));
    open.into_iter().filter_map(revised).collect()
}

/// What is left out together with a change.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum LeftOut {
    /// Cuts that are not made.
    Cuts(SameBarrier),
    /// A depression that is not filled, by its deepest cell.
    Fill(Cell),
}

/// The conditioned terrain, and which of its cuts belong together.
struct Terrain<'a> {
    base: RevisionBase<'a>,
    barriers: Barriers<'a>,
}

impl Terrain<'_> {
    fn left_out(&self, undone: Undone) -> LeftOut {
        match undone {
            Undone::Uncut(pit) => {
                let cut = self.base.cut_at(pit).expect("a change that is a cut begins at the pit of one");
                LeftOut::Cuts(self.barriers.same_as(cut))
            }
            Undone::Unfilled(deepest) => LeftOut::Fill(deepest),
        }
    }

    /// What is different without some changes.
    fn without(&self, left_out: &LeftOut) -> Revised {
        match left_out {
            LeftOut::Cuts(cuts) => self.base.without_cuts(&self.barriers.pits(cuts)),
            &LeftOut::Fill(deepest) => self.base.with_sink(deepest),
        }
    }
}

/// The parcels that are judged otherwise on other terrain.
fn depending(study: &Study, findings: &TiSlice<ParcelIx, Finding>, revised: Revised) -> Vec<ParcelIx> {
    let other = study.revised(revised);
    let differs = |parcel: ParcelIx, facts: &ParcelFacts| {
        !are_alike(&Conclusion::of(&findings[parcel]), &Conclusion::on(facts, &other.inputs.profile))
    };
    let differing = each_facts(&other, differs).into_iter_enumerated();
    differing.filter_map(|(parcel, differs)| differs.then_some(parcel)).collect()
}

/// Whether two conclusions are the same to a reader: standing, basis, outlet, and hectares to the tenth.
fn are_alike(one: &Conclusion, other: &Conclusion) -> bool {
    let tenths = |conclusion: &Conclusion| {
        [conclusion.right, conclusion.acquire, conclusion.undecided].map(|area| (area.hectares() * 10.0).round() as i64)
    };
    (one.standing, &one.basis, &one.outlet) == (other.standing, &other.basis, &other.outlet)
        && tenths(one) == tenths(other)
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;
    use std::sync::Arc;

    use fallwright_geodata::{Crs, OutputFolder, RasterMeta, RasterValues};

    use super::*;
    use crate::answers::standing::findings;
    use crate::answers::terrain_changes::{count_listed, terrain_changes};
    use fallwright_case::{Budget, Inputs};
    use fallwright_units::Frame;

    /// Cells along a side of a block of nine parcels with a creek.
    const BLOCK: usize = 90;
    const CASE: &str = r#"
[terrain]
elevation = ["rough.tif"]
vertical_unit = "m"

[parcels]
source = "parcels.geojson"
id = "id"

[[waterways]]
source = "creek.geojson"
class = "natural_watercourse"
"#;

    /// Blocks of nine parcels on rough ground, cells of 10 m, that falls to a creek in the middle of each column of blocks.
    fn write_rough(folder: &Path, seed: u64, blocks: usize) {
        let side = blocks * BLOCK;
        let mut state = seed;
        let mut noise = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1_u32 << 24) as f32
        };
        let heights: Vec<f32> = (0..side * side)
            .map(|cell| {
                let (from_creek, row) = ((cell % BLOCK).abs_diff(BLOCK / 2) as f32, (cell / side) as f32);
                120.0 - 0.05 * row + 0.04 * from_creek + 1.2 * noise()
            })
            .collect();
        let frame = Frame::new(side, side, (400_000.0, 4_850_000.0 + 10.0 * side as f64), (10.0, 10.0)).unwrap();
        let mut out = OutputFolder::create(folder, true).unwrap();
        let crs = Crs::from_text("EPSG:26917").unwrap();
        out.write_raster("rough.tif", &frame, &crs, RasterValues::F32(&heights), &RasterMeta::default()).unwrap();
        out.commit().unwrap();
        let collection = |features: Vec<String>| {
            format!(
                r#"{{"type":"FeatureCollection","crs":{{"type":"name","properties":{{"name":"urn:ogc:def:crs:EPSG::26917"}}}},"features":[{}]}}"#,
                features.join(",")
            )
        };
        let across = 3 * blocks;
        let parcel = |number: usize| {
            let (west, south) = (400_010 + number % across * 290, 4_850_010 + number / across * 290);
            let (east, north) = (west + 290, south + 290);
            format!(
                r#"{{"type":"Feature","properties":{{"id":"{number}"}},"geometry":{{"type":"Polygon","coordinates":[[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]}}}}"#
            )
        };
        let creek = |block: usize| {
            let (x, head) = (400_455 + block * 10 * BLOCK, 4_849_700 + side * 10);
            format!(
                r#"{{"type":"Feature","properties":{{"id":"W{block}"}},"geometry":{{"type":"LineString","coordinates":[[{x},{head}],[{x},4850005]]}}}}"#
            )
        };
        fs::write(folder.join("parcels.geojson"), collection((0..across * across).map(parcel).collect())).unwrap();
        fs::write(folder.join("creek.geojson"), collection((0..blocks).map(creek).collect())).unwrap();
        fs::write(folder.join("case.toml"), CASE).unwrap();
    }

    fn rough(seed: u64, blocks: usize) -> Study {
        let folder = tempfile::tempdir().unwrap();
        write_rough(folder.path(), seed, blocks);
        let budget = Budget::of(1 << 30);
        let inputs = Inputs::open(&folder.path().join("case.toml"), &budget, &|_| {}).unwrap();
        Study::of(Arc::new(inputs), &|_| {}).unwrap()
    }

    /// Changes, and what is gone through to sort them: cuts left out, and cells that differ without them.
    fn work(blocks: usize) -> (usize, usize) {
        let study = rough(7, blocks);
        let terrain = Terrain { base: study.revision_base(), barriers: Barriers::find(&study) };
        let undone: Vec<Undone> =
            terrain_changes(&study).unwrap().0.iter().filter_map(|change| change.undone).collect();
        let each: BTreeSet<LeftOut> = undone.iter().map(|&undone| terrain.left_out(undone)).collect();
        let work = |left_out: &LeftOut| {
            let cuts = if let LeftOut::Cuts(cuts) = left_out { terrain.barriers.pits(cuts).len() } else { 0 };
            let Revised { enforced, surface, direction } = terrain.without(left_out);
            cuts + enforced.len() + surface.len() + direction.len()
        };
        (undone.len(), each.iter().map(work).sum())
    }

    /// By definition: what is linear grows with the case, here fourfold; a tenth is left for the rim, which has fewer changes.
    #[test]
    fn the_work_of_sorting_changes_grows_with_the_case() {
        let ((changes, small), (more_changes, large)) = (work(2), work(4));
        assert!(changes > 500 && more_changes > 3 * changes, "{changes} and {more_changes} changes");
        assert!(large <= 4 * small + 4 * small / 10, "{small} steps became {large}");
    }

    #[test]
    fn as_many_changes_are_counted_as_are_listed() {
        let study = rough(7, 1);
        let listed = terrain_changes(&study).unwrap().0.into_iter().filter(|change| change.undone.is_some());
        assert_eq!(count_listed(&study.setting.conditioned), listed.count());
    }

    /// By definition: a cut belongs to one depression, so that all cuts but suspected culverts are left out once.
    #[test]
    fn cuts_of_one_depression_are_left_out_together() {
        let study = rough(7, 2);
        let barriers = Barriers::find(&study);
        let cuts: Vec<_> = study.setting.conditioned.cuts.iter().collect();
        let plain = cuts.iter().filter(|cut| study.suspected.of(cut).is_none());
        let each: BTreeSet<SameBarrier> = plain.clone().map(|cut| barriers.same_as(cut)).collect();
        assert!(each.len() < plain.count(), "no depression has two cuts");
        assert!(each.iter().map(|same| barriers.pits(same).len()).sum::<usize>() <= cuts.len());
    }

    /// Oracle: everything worked out anew.
    #[test]
    fn no_finding_depends_on_a_harmless_change() {
        let (mut harmless, mut deciding) = (0, 0);
        for seed in 1..=4 {
            let study = rough(seed, 1);
            let findings = findings(&study);
            let channel_cells = channel_test(&study.inputs, &study.setting).cells;
            let terrain = Terrain { base: study.revision_base(), barriers: Barriers::find(&study) };
            let undone = |change: TerrainChange| {
                let left_out = terrain.left_out(change.undone?);
                Some((change.id, terrain.without(&left_out)))
            };
            let revised: Vec<(String, Revised)> =
                terrain_changes(&study).unwrap().0.into_iter().filter_map(undone).collect();
            for (id, revised) in revised {
                let decides_nothing = is_harmless(&study.setting, &revised.direction, channel_cells, 0);
                let depending = depending(&study, &findings, revised);
                if decides_nothing {
                    assert_eq!(depending, Vec::<ParcelIx>::new(), "{id}");
                    harmless += 1;
                } else {
                    deciding += usize::from(!depending.is_empty());
                }
            }
        }
        assert!(harmless > 50 && deciding > 50, "{harmless} harmless, {deciding} deciding");
    }
}
