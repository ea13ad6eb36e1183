//! What must hold on every terrain: random ground with flats, missing data, kept depressions and links.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Frame, Raster, SharedRaster};
use proptest::prelude::*;

use super::end_of;
use crate::condition::follow_channels;
use crate::flow_direction::flow_along_channels;
use crate::tiled::FlowConstraints;
use crate::{
    Conditioned, Conditioning, CutLimits, Link, Links, RevisionBase, accumulation, condition, depressions, direction,
    fill, label_upstream,
};

#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) ground: Raster<f32>,
    pub(crate) links: Vec<Link>,
    pub(crate) sinks: Vec<Cell>,
    pub(crate) cuts: Option<CutLimits>,
}

pub(crate) fn cases() -> impl Strategy<Value = Case> {
    (2_usize..12, 2_usize..12).prop_flat_map(|(cols, rows)| {
        let cells = cols * rows;
        // Few distinct levels make many flats.
        let level = prop_oneof![9 => (0_u8..6).prop_map(f32::from), 1 => Just(f32::NAN)];
        let ends = prop::collection::vec((0..cells, 0..cells), 0..5);
        let cuts = prop::option::of((0.0..12.0, 0.0..6.0));
        (prop::collection::vec(level, cells), ends, prop::collection::vec(0..cells, 0..2), cuts).prop_map(
            move |(values, ends, sinks, cuts)| {
                let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
                let ground = Raster { frame, values };
                let has_data = |&cell: &Cell| !ground[cell].is_nan();
                let links: BTreeMap<Cell, Cell> = ends
                    .into_iter()
                    .map(|(a, b)| (Cell(a), Cell(b)))
                    .filter(|(a, b)| a != b && has_data(a) && has_data(b))
                    .collect();
                let sinks: Vec<Cell> =
                    sinks.into_iter().map(Cell).filter(has_data).filter(|cell| !links.contains_key(cell)).collect();
                let links = links.into_iter().map(|(inlet, outlet)| Link { inlet, outlet }).collect();
                let cuts = cuts.map(|(longest_m, deepest_m)| CutLimits { longest_m, deepest_m });
                Case { ground, links, sinks, cuts }
            },
        )
    })
}

pub(crate) fn run(case: &Case) -> Option<Conditioned> {
    let links = Links::new(&case.links).unwrap();
    let known = Conditioning { links, sinks: case.sinks.clone(), cuts: case.cuts, ..Conditioning::default() };
    condition(&case.ground, known).ok()
}

fn is_rim(ground: &Raster<f32>, cell: Cell) -> bool {
    let inside: Vec<Cell> = ground.frame.neighbours(cell).map(|(_, next)| next).collect();
    inside.len() < 8 || inside.iter().any(|&next| ground[next].is_nan())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn every_path_ends_at_the_rim_or_in_a_kept_depression(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        for cell in (0..case.ground.frame.len()).map(Cell).filter(|&cell| !case.ground[cell].is_nan()) {
            let end = end_of(&done, cell);
            prop_assert_eq!(done.flow.direction[end], direction::ENDS);
            prop_assert!(is_rim(&case.ground, end) || case.sinks.contains(&end));
        }
    }

    #[test]
    fn no_cell_is_lost(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        let area = accumulation(&done.flow);
        let ends = |cell: &Cell| done.flow.direction[*cell] == direction::ENDS;
        let out: u64 = (0..area.values.len()).map(Cell).filter(ends).map(|cell| area[cell]).sum();
        let valid = case.ground.values.iter().filter(|z| !z.is_nan()).count() as u64;
        prop_assert_eq!(out, valid);
    }

    #[test]
    fn the_filled_surface_never_rises_along_a_path(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        for cell in (0..case.ground.frame.len()).map(Cell) {
            if let Some(next) = done.flow.receiver(cell) {
                prop_assert!(done.surface[next] <= done.surface[cell]);
            }
        }
    }

    #[test]
    fn no_cut_breaks_its_limits_or_moves_more_than_its_fill(case in cases()) {
        let Some(done) = run(&case) else { return Ok(()) };
        for cut in &done.cuts {
            let limits = case.cuts.unwrap();
            prop_assert!(cut.depth_m <= limits.deepest_m && cut.way.barrier_m <= limits.longest_m);
            prop_assert!(cut.way.rise_sum_m <= cut.lowering_m + 1e-6);
            for (cell, bed) in cut.way.path.iter().zip(&cut.bed) {
                prop_assert!(*bed <= case.ground[*cell] && done.enforced[*cell] <= *bed);
            }
        }
    }

    #[test]
    fn filling_never_lowers_and_is_idempotent(case in cases()) {
        let links = Links::new(&case.links).unwrap();
        let once = fill(&case.ground, &links, &case.sinks);
        prop_assume!(once.blocked.is_empty());
        for (z, filled) in case.ground.values.iter().zip(&once.surface.values) {
            prop_assert!(z.is_nan() == filled.is_nan() && (z.is_nan() || filled >= z));
        }
        let twice = fill(&once.surface, &links, &case.sinks);
        prop_assert!(twice.surface.values.iter().zip(&once.surface.values).all(|(a, b)| a == b || a.is_nan() && b.is_nan()));
    }

    #[test]
    fn filling_is_monotone(case in cases(), raise in prop::collection::vec(0_u8..3, 144)) {
        let links = Links::new(&case.links).unwrap();
        let mut higher = case.ground.clone();
        for (z, more) in higher.values.iter_mut().zip(raise) {
            *z += f32::from(more);
        }
        let (low, high) = (fill(&case.ground, &links, &case.sinks), fill(&higher, &links, &case.sinks));
        prop_assume!(low.blocked.is_empty());
        prop_assert!(low.surface.values.iter().zip(&high.surface.values).all(|(a, b)| a.is_nan() || a <= b));
    }

    #[test]
    fn adding_a_constant_changes_no_direction(case in cases()) {
        // Beds of cuts are rounded to 32 bits, which a constant changes.
        let case = Case { cuts: None, ..case };
        let Some(done) = run(&case) else { return Ok(()) };
        let mut raised = case.clone();
        for z in &mut raised.ground.values {
            *z += 64.0;
        }
        prop_assert_eq!(run(&raised).unwrap().flow, done.flow);
    }

    #[test]
    fn the_count_at_a_cell_is_the_size_of_its_watershed(case in cases(), index in 0_usize..144) {
        let Some(done) = run(&case) else { return Ok(()) };
        let cell = Cell(index % case.ground.frame.len());
        prop_assume!(!case.ground[cell].is_nan());
        let mut labels = Raster::filled(case.ground.frame, 0_u32);
        labels[cell] = 1;
        let size = label_upstream(&done.flow, labels).values.iter().filter(|&&label| label == 1).count() as u64;
        prop_assert_eq!(size, accumulation(&done.flow)[cell]);
    }

    #[test]
    fn a_turned_or_mirrored_terrain_gives_the_turned_or_mirrored_answer(values in Just((0_u16..64).collect::<Vec<_>>()).prop_shuffle()) {
        let frame = Frame::new(8, 8, (0.0, 0.0), (1.0, 1.0)).unwrap();
        // Filling makes flats; cells on them, and ties, are passed over below.
        let ground = Raster { frame, values: values.iter().map(|&v| f32::from(v) * f32::from(v)).collect::<Vec<f32>>() };
        let filled = crate::fill(&ground, &Links::default(), &[]).surface;
        for moved in [|c: usize, r: usize| (7 - r, c), |c: usize, r: usize| (7 - c, r)] {
            let mut there = Raster::filled(frame, 0.0_f32);
            for cell in (0..64).map(Cell) {
                let (c, r) = frame.col_row(cell);
                let (c, r) = moved(c, r);
                there[frame.cell(c, r)] = ground[cell];
            }
            let back = crate::fill(&there, &Links::default(), &[]).surface;
            for cell in (0..64).map(Cell) {
                let (c, r) = frame.col_row(cell);
                let (c, r) = moved(c, r);
                prop_assert_eq!(back[frame.cell(c, r)], filled[cell]);
            }
            let flow = crate::flow_direction(&filled, Links::default(), &[]);
            let turned = crate::flow_direction(&back, Links::default(), &[]);
            for cell in (0..64).map(Cell).filter(|&cell| has_one_steepest_way_down(&filled, cell)) {
                let place = |cell: Cell| { let (c, r) = frame.col_row(cell); let (c, r) = moved(c, r); frame.cell(c, r) };
                prop_assert_eq!(turned.receiver(place(cell)), flow.receiver(cell).map(place));
            }
        }
    }
}

/// Whether a cell lies on no flat and has no two equally steep ways down.
fn has_one_steepest_way_down(surface: &Raster<f32>, cell: Cell) -> bool {
    let mut slopes: Vec<f64> = surface
        .frame
        .neighbours(cell)
        .map(|(_, next)| f64::from(surface[cell] - surface[next]) / surface.frame.distance(cell, next))
        .collect();
    slopes.sort_by(f64::total_cmp);
    let steepest = slopes.len() - 1;
    slopes[steepest] > 0.0 && slopes[steepest] > slopes[steepest - 1]
}

/// A run with channels along some rows, and what it was made with.
fn run_with_channels(case: &Case) -> Option<(Conditioned, Conditioning)> {
    let frame = case.ground.frame;
    let row = |row: usize| (0..frame.cols()).map(|col| frame.cell(col, row)).collect();
    // The third one winds about the second.
    let winding = (0..frame.cols()).map(|col| frame.cell(col, (frame.rows() / 2 + col % 3).min(frame.rows() - 1)));
    let winding = winding.filter(|cell| cell.0 % 7 != 5).collect();
    let channels = vec![row(0), row(frame.rows() / 2), winding];
    let links = Links::new(&case.links).unwrap();
    let known = Conditioning { channels, links, sinks: case.sinks.clone(), cuts: case.cuts, ..Conditioning::default() };
    Some((condition(&case.ground, known.clone()).ok()?, known))
}

fn base<'a>(case: &'a Case, done: &'a Conditioned, known: &'a Conditioning) -> RevisionBase<'a> {
    RevisionBase::new(&case.ground, done, &known.channels, &known.sinks)
}

/// Equal to the bit; missing data equal themselves.
fn bits(raster: &Raster<f32>) -> Vec<u32> {
    raster.values.iter().map(|z| z.to_bits()).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3000))]

    /// Oracle: everything conditioned again.
    #[test]
    fn a_revision_without_cuts_is_a_new_run(case in cases(), chosen in prop::collection::vec(any::<bool>(), 6)) {
        let Some((done, known)) = run_with_channels(&case) else { return Ok(()) };
        let pits: BTreeSet<Cell> =
            done.cuts.iter().zip(chosen).filter(|(_, chosen)| *chosen).map(|(cut, _)| cut.way.path[0]).collect();
        let again = condition(&case.ground, Conditioning { uncut: pits.clone(), ..known.clone() }).unwrap();
        let mut revised = done.clone();
        base(&case, &done, &known).without_cuts(&pits).swap(&mut revised);
        prop_assert_eq!(bits(&revised.enforced), bits(&again.enforced));
        prop_assert_eq!(bits(&revised.surface), bits(&again.surface));
        prop_assert_eq!(revised.flow, again.flow);
    }

    /// Oracle: the whole surface filled again with the sink, and directions found on the whole of it.
    #[test]
    fn a_revision_with_a_sink_is_a_new_run(case in cases(), chosen in any::<prop::sample::Index>()) {
        let Some((done, known)) = run_with_channels(&case) else { return Ok(()) };
        let fills: Vec<_> = depressions(&done.enforced, &done.surface).collect();
        if fills.is_empty() {
            return Ok(());
        }
        let sink = chosen.get(&fills).deepest;
        let mut revised = done.clone();
        base(&case, &done, &known).with_sink(sink).swap(&mut revised);
        let sinks = [known.sinks.clone(), vec![sink]].concat();
        let surface = fill(&done.enforced, &done.flow.links, &sinks).surface;
        prop_assert_eq!(bits(&revised.surface), bits(&surface));
        let mut flow = flow_along_channels(&surface, done.flow.links.clone(), &sinks, &known.channels);
        let direction = SharedRaster::new(flow.direction.clone());
        let constraints = FlowConstraints { links: &done.flow.links, sinks: &sinks, channels: &known.channels };
        let Ok(()) = follow_channels(&surface, &direction, constraints);
        flow.direction = direction.into_raster();
        prop_assert_eq!(revised.flow, flow);
    }
}
