//! Grids with answers worked out by hand from the published definitions; the arithmetic is small enough to redo.

use fallwright_units::{Cell, Raster};

use super::{bare, grid, linked};
use crate::direction::ON_FLAT;
use crate::textbook::flat_mask;
use crate::{
    Conditioned, Conditioning, CutLimits, Link, Links, accumulation, condition, depressions, direction, storage,
};

fn rows<T: Copy>(raster: &Raster<T>) -> Vec<Vec<T>> {
    raster.values.chunks(raster.frame.cols()).map(<[T]>::to_vec).collect()
}

/// Priority-flood by definition: each cell takes the lowest level from which its water can leave (Barnes, Lehman & Mulla
/// 2014); nested depressions, one outlet.
#[test]
fn nested_depressions_are_filled_to_their_spill_levels() {
    let ground = grid(
        "9 9 9 9 9 9 9
         9 5 6 8 7 6 9
         9 4 3 8 6 2 9
         9 5 6 7 6 5 9
         9 8 8 8 8 7 9
         9 7 7 7 6 6 6.5
         9 9 9 9 9 9 9",
    );
    let filled = bare(&ground).surface;
    let expected = grid(
        "9 9 9 9 9 9   9
         9 7 7 8 7 7   9
         9 7 7 8 7 7   9
         9 7 7 7 7 7   9
         9 8 8 8 8 7   9
         9 7 7 7 6.5 6.5 6.5
         9 9 9 9 9 9   9",
    );
    assert_eq!(filled, expected);
    let found: Vec<_> = depressions(&ground, &filled).collect();
    assert_eq!(found.iter().map(|d| d.cells.len()).sum::<usize>(), 13);
    assert_eq!(found.iter().map(|d| d.volume_m3).sum::<f64>(), 24.0);
    let deepest = found.iter().max_by(|a, b| a.depth_m.total_cmp(&b.depth_m)).unwrap();
    assert_eq!((deepest.depth_m, deepest.level_m, deepest.deepest), (5.0, 7.0, ground.frame.cell(5, 2)));
}

/// Steepest descent by definition (O'Callaghan & Mark 1984) on a valley without ties.
#[test]
fn a_valley_drains_down_its_middle() {
    let ground = grid(
        "32.0 30.1 28.3 29.2 31.5
         29.7 27.2 24.9 26.6 29.9
         28.1 24.4 21.3 23.8 27.3
         26.8 22.7 18.2 21.9 25.7
         25.9 20.6 15.0 19.9 24.8",
    );
    let flow = bare(&ground).flow;
    let (e, se, s, sw, w) = (2, 3, 4, 5, 6);
    assert_eq!(
        rows(&flow.direction),
        [[se, se, s, sw, sw], [se, se, s, sw, sw], [se, se, s, sw, sw], [se, se, s, sw, sw], [e, e, 0, w, w]]
    );
    assert_eq!(
        rows(&accumulation(&flow)),
        [[1, 1, 1, 1, 1], [1, 2, 4, 2, 1], [1, 2, 9, 2, 1], [1, 2, 14, 2, 1], [1, 3, 25, 3, 1]]
    );
}

fn embankment() -> Raster<f32> {
    grid(
        "12 12   12   12   12   12   12   12   12
         12 11.5 11.4 11.3 11.9 11.2 11.1 11.0 12
         12 10.5 10.4 10.3 11.8 10.1 10.0 9.9  9.8
         12 11.5 11.4 11.3 11.9 11.2 11.1 11.0 12
         12 12   12   12   12   12   12   12   12",
    )
}

/// Directions on the raw surface, before filling: the embankment holds back the upper half.
#[test]
fn a_road_embankment_holds_back_water_on_the_raw_surface() {
    let ground = embankment();
    let pit = ground.frame.cell(3, 2);
    let raw = crate::flow_direction(&ground, Links::default(), &[pit]);
    let area = accumulation(&raw);
    assert_eq!(raw.direction[pit], direction::ENDS);
    assert_eq!((area[pit], area[ground.frame.cell(8, 2)]), (20, 25));
}

#[test]
fn filling_behind_an_embankment_raises_nine_cells() {
    let ground = embankment();
    let found: Vec<_> = depressions(&ground, &bare(&ground).surface).collect();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].cells.len(), 9);
    assert!((found[0].volume_m3 - 6.6).abs() < 1e-5);
    assert!((found[0].level_m - 11.8).abs() < 1e-5);
}

fn cut_through(ground: &Raster<f32>, longest_m: f64, deepest_m: f64) -> Conditioned {
    let cuts = Some(CutLimits { longest_m, deepest_m });
    condition(ground, Conditioning { cuts, ..Conditioning::default() }).unwrap()
}

/// The least lowering to lower ground, worked out by hand: one cell of the embankment, 11.8 to 10.2.
#[test]
fn an_embankment_is_cut_where_that_moves_less_than_filling() {
    let ground = embankment();
    let frame = ground.frame;
    let through = cut_through(&ground, 60.0, 3.0);
    assert_eq!(through.cuts.len(), 1);
    let cut = &through.cuts[0];
    assert_eq!(cut.way.path, [3, 4, 5].map(|col| frame.cell(col, 2)));
    assert!((cut.way.rise_sum_m - 1.5).abs() < 1e-5 && (cut.lowering_m - 1.6).abs() < 1e-5);
    assert!((cut.depth_m - 1.6).abs() < 1e-5);
    let stored = storage(&ground, &Links::default(), &[], cut.way.path[0]).unwrap();
    assert!((stored.fill_m - 6.6).abs() < 1e-5);
    assert!((through.surface[frame.cell(4, 2)] - 10.2).abs() < 1e-5);
    let area = accumulation(&through.flow);
    let row: Vec<u64> = (0..9).map(|col| area[frame.cell(col, 2)]).collect();
    assert_eq!(row, [1, 10, 15, 20, 23, 30, 35, 42, 45]);
}

/// Water stands behind the barrier only, not on the slope beyond it that is still higher than the pit.
#[test]
fn storage_ends_at_the_barrier() {
    let ground = grid(
        "9 9 9 9 9 9 9
         9 2 1 4 3 2 0
         9 9 9 9 9 9 9",
    );
    let stored = storage(&ground, &Links::default(), &[], ground.frame.cell(2, 1)).unwrap();
    assert_eq!(stored.cells, [2, 1].map(|col| ground.frame.cell(col, 1)));
    assert_eq!((stored.level_m, stored.fill_m), (4.0, 5.0));
}

#[test]
fn a_cut_that_is_too_deep_or_too_long_is_not_made() {
    let ground = embankment();
    for (longest_m, deepest_m) in [(60.0, 1.5), (0.9, 3.0), (0.0, 3.0)] {
        let kept = cut_through(&ground, longest_m, deepest_m);
        assert!(kept.cuts.is_empty(), "{longest_m} {deepest_m}");
        assert_eq!(kept.surface, bare(&ground).surface);
    }
}

/// Filling moves 0.1; an even grade from 1.9 to 1 through four cells at 2 would move 0.28 + 0.46 + 0.64 + 0.82.
#[test]
fn a_shallow_pond_behind_a_wide_bank_is_filled() {
    let ground = grid(
        "9 9   9 9 9 9 9
         9 1.9 2 2 2 2 1
         9 9   9 9 9 9 9",
    );
    let done = cut_through(&ground, 60.0, 3.0);
    assert!(done.cuts.is_empty());
    assert_eq!(done.surface[ground.frame.cell(1, 1)], 2.0);
}

/// A culvert under the embankment brings the whole block to the outlet and changes no elevation.
#[test]
fn a_culvert_through_an_embankment_carries_the_water_on() {
    let ground = embankment();
    let frame = ground.frame;
    let link = Link { inlet: frame.cell(3, 2), outlet: frame.cell(5, 2) };
    let through = linked(&ground, &[link]);
    assert_eq!(through.surface, ground);
    assert_eq!(through.flow.direction[link.inlet], direction::CARRIED);
    let area = accumulation(&through.flow);
    assert_eq!(area[frame.cell(8, 2)], 45);
    assert_eq!([1, 2, 3].map(|col| area[frame.cell(col, 2)]), [10, 15, 20]);
    assert_eq!([6, 7, 8].map(|col| area[frame.cell(col, 2)]), [35, 42, 45]);
}

/// Mask by the definition of Barnes, Lehman & Mulla (2014), worked out by hand: twice the steps to the low edge plus the
/// greatest distance from higher ground less the cell's own.
#[test]
fn a_flat_drains_toward_its_outlet_and_away_from_higher_ground() {
    let mut rows = ["7 7 7 7 7 7 7"; 7];
    for row in &mut rows[1..6] {
        *row = "7 6 6 6 6 6 7";
    }
    rows[3] = "7 6 6 6 6 6 5";
    let surface = grid(&rows.join("\n"));
    let mut codes = crate::flow_direction(&surface, Links::default(), &[]).direction;
    let frame = surface.frame;
    let low_edge = [frame.cell(5, 2), frame.cell(5, 3), frame.cell(5, 4)];
    for col in 1..6 {
        for row in 1..6 {
            let cell = frame.cell(col, row);
            if !low_edge.contains(&cell) {
                codes[cell] = ON_FLAT;
            }
        }
    }
    let mask = flat_mask(&surface, &codes, &Links::default());
    let inner: Vec<Vec<u32>> = (1..6).map(|row| (1..6).map(|col| mask[frame.cell(col, row)]).collect()).collect();
    assert_eq!(inner, [[12, 10, 8, 6, 6], [12, 9, 7, 5, 2], [12, 9, 6, 4, 2], [12, 9, 7, 5, 2], [12, 10, 8, 6, 6]]);
}

#[test]
fn a_kept_depression_ends_its_water() {
    let ground = grid(
        "9 9 9 9 9
         9 5 5 5 8
         9 5 3 5 8
         9 5 5 5 8
         9 9 9 8 7",
    );
    let sink = ground.frame.cell(2, 2);
    let kept = condition(&ground, Conditioning { sinks: vec![sink], ..Conditioning::default() }).unwrap();
    assert_eq!(kept.surface, ground);
    assert_eq!(kept.flow.direction[sink], direction::ENDS);
    assert!(accumulation(&kept.flow)[sink] >= 9);
}

#[test]
fn a_mapped_channel_carries_water_through_a_ridge() {
    let ground = grid(
        "9 9 9 9 9 9 9
         9 5 5 8 5 4 3
         9 9 9 9 9 9 9",
    );
    let frame = ground.frame;
    let line: Vec<Cell> = (1..7).map(|col| frame.cell(col, 1)).collect();
    let through = condition(&ground, Conditioning { channels: vec![line.clone()], ..Conditioning::default() }).unwrap();
    let path: Vec<Cell> = through.flow.path(line[0]).collect();
    assert_eq!(path, line);
    for pair in line.windows(2) {
        assert!(through.bed[&pair[1]] <= through.bed[&pair[0]]);
    }
}

/// Water led into a structure whose outlet only drains back to its own inlet: the structure is left out and said so.
#[test]
fn a_structure_that_can_discharge_nowhere_is_left_out() {
    let ground = grid("5 4 . . .\n . . 3 . .\n . . . 2 1");
    let frame = ground.frame;
    // The only way from (2, 1) is over (3, 2), and the structure leads from (3, 2) back to (2, 1).
    let link = Link { inlet: frame.cell(3, 2), outlet: frame.cell(2, 1) };
    let through = linked(&ground, &[link]);
    assert!(through.blocked.is_empty(), "cells beside missing data are outlets themselves");
    let back = [
        Link { inlet: frame.cell(0, 0), outlet: frame.cell(1, 0) },
        Link { inlet: frame.cell(1, 0), outlet: frame.cell(0, 0) },
    ];
    let circle = linked(&ground, &back);
    assert_eq!(circle.blocked, [frame.cell(0, 0), frame.cell(1, 0)]);
}

#[test]
fn a_raster_without_data_is_refused() {
    assert!(condition(&grid(". .\n. ."), Conditioning::default()).is_err());
}
