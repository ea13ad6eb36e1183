//! The engine against the textbook, to the last bit: any tile size, any number of threads.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_units::{Cell, Frame, Raster, SharedRaster};
use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::grid;
use crate::tiled::{
    self, Counting, Directions, FillError, Filling, FlatTask, FlowConstraints, Labelling, Raised, Tiling, raised,
};
use crate::{Flow, Link, Links, depressions, direction, textbook};

#[derive(Clone, Debug)]
struct Case {
    ground: Raster<f32>,
    links: Links,
    sinks: Vec<Cell>,
    channels: Vec<Vec<Cell>>,
    labelled: Vec<Cell>,
}

impl Case {
    fn bare(ground: Raster<f32>) -> Self {
        Self { ground, links: Links::default(), sinks: Vec::new(), channels: Vec::new(), labelled: vec![Cell(0)] }
    }
}

/// Everything that the engine finds on one terrain.
#[derive(Debug, PartialEq)]
struct Answer {
    blocked: Vec<Cell>,
    /// As bits, so that missing data is equal to itself.
    surface: Vec<u32>,
    direction: Vec<u8>,
    area: Vec<u64>,
    labels: Vec<u32>,
}

fn seeds(case: &Case) -> Raster<u32> {
    let mut labels = Raster::filled(case.ground.frame, 0);
    for (position, &cell) in case.labelled.iter().enumerate() {
        labels[cell] = position as u32 + 1;
    }
    labels
}

fn bits(surface: &Raster<f32>) -> Vec<u32> {
    surface.values.iter().map(|z| if z.is_nan() { u32::MAX } else { z.to_bits() }).collect()
}

fn expected(case: &Case) -> Answer {
    let mut links = case.links.clone();
    let mut blocked = Vec::new();
    let surface = loop {
        let filled = textbook::fill(&case.ground, &links, &case.sinks);
        if filled.blocked.is_empty() {
            break filled.surface;
        }
        links = links.without(&filled.blocked);
        blocked.extend(filled.blocked);
    };
    let flow = textbook::flow_along_channels(&surface, links, &case.sinks, &case.channels);
    let area = textbook::accumulation(&flow).values;
    let labels = textbook::label_upstream(&flow, seeds(case)).values;
    Answer { blocked, surface: bits(&surface), direction: flow.direction.values, area, labels }
}

fn found(case: &Case, side: usize) -> Answer {
    let frame = case.ground.frame;
    let tiling = Tiling { frame, side };
    let mut links = case.links.clone();
    let mut blocked = Vec::new();
    let surface = loop {
        let surface = SharedRaster::new(case.ground.clone());
        let node = SharedRaster::new(Raster::filled(frame, 0));
        let Err(FillError::BlockedInlets(more)) = tiled::fill(&tiling, &surface, &surface, &node, &links, &case.sinks)
        else {
            break surface.into_raster();
        };
        links = links.without(&more);
        blocked.extend(more);
    };
    let direction = SharedRaster::new(Raster::filled(frame, direction::NODATA));
    let constraints = FlowConstraints { links: &links, sinks: &case.sinks, channels: &case.channels };
    let Ok(()) = tiled::directions(&tiling, &surface, &direction, constraints);
    let flow = Flow { direction: direction.into_raster(), links };
    let area = SharedRaster::new(Raster::filled(frame, 0_u64));
    let Ok(()) = tiled::accumulate(&tiling, &flow.direction, &area, &flow.links);
    let labels = SharedRaster::new(seeds(case));
    let Ok(()) = tiled::label(&tiling, &flow.direction, &labels, &flow.links);
    Answer {
        blocked,
        surface: bits(&surface),
        direction: flow.direction.values,
        area: area.into_raster().values,
        labels: labels.into_raster().values,
    }
}

fn check(case: &Case, sides: &[usize]) {
    let expected = expected(case);
    for &side in sides {
        assert_eq!(found(case, side), expected, "tiles of {side}: {case:?}");
    }
}

fn cases() -> impl Strategy<Value = Case> {
    (1_usize..24, 1_usize..24).prop_flat_map(|(cols, rows)| {
        let cells = cols * rows;
        // Few distinct levels make many flats; some terrains have many.
        let coarse = prop_oneof![30 => (0_u8..5).prop_map(f32::from), 1 => Just(f32::NAN)];
        let fine = prop_oneof![30 => (-9_i16..300).prop_map(|z| f32::from(z) / 100.0), 1 => Just(f32::NAN)];
        let values = prop_oneof![prop::collection::vec(coarse, cells), prop::collection::vec(fine, cells)];
        let ends = prop::collection::vec((0..cells, 0..cells), 0..6);
        let walks = prop::collection::vec((0..cells, prop::collection::vec(0_usize..8, 1..20)), 0..3);
        let lake = prop::option::of((0..cols, 0..rows, 1..=cols, 1..=rows, 0_u8..5));
        let picks = (prop::collection::vec(0..cells, 0..3), prop::collection::vec(0..cells, 0..5));
        (values, ends, walks, lake, picks, 0.5_f64..2.0, any::<bool>()).prop_map(
            move |(mut values, ends, walks, lake, (sinks, labelled), height, square)| {
                let height = if square { 1.0 } else { height };
                let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, height)).unwrap();
                if let Some((col, row, wide, high, level)) = lake {
                    for (c, r) in
                        (row..rows.min(row + high)).flat_map(|r| (col..cols.min(col + wide)).map(move |c| (c, r)))
                    {
                        values[r * cols + c] = f32::from(level);
                    }
                }
                let ground = Raster { frame, values };
                let has_data = |cell: &Cell| !ground[*cell].is_nan();
                let links: BTreeMap<Cell, Cell> = ends
                    .into_iter()
                    .map(|(a, b)| (Cell(a), Cell(b)))
                    .filter(|(a, b)| a != b && has_data(a) && has_data(b))
                    .collect();
                let sinks =
                    sinks.into_iter().map(Cell).filter(has_data).filter(|cell| !links.contains_key(cell)).collect();
                let links: Vec<Link> = links.into_iter().map(|(inlet, outlet)| Link { inlet, outlet }).collect();
                let channels = walks.into_iter().map(|(start, steps)| walk(&frame, Cell(start), &steps)).collect();
                let labelled: BTreeSet<Cell> = labelled.into_iter().map(Cell).collect();
                let links = Links::new(&links).unwrap();
                Case { ground, links, sinks, channels, labelled: labelled.into_iter().collect() }
            },
        )
    })
}

fn walk(frame: &Frame, start: Cell, steps: &[usize]) -> Vec<Cell> {
    let mut cells = vec![start];
    for &step in steps {
        cells.extend(frame.step(cells[cells.len() - 1], fallwright_units::NEIGHBOURS[step]));
    }
    cells
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn every_answer_is_that_of_the_textbook(case in cases(), side in 1_usize..9) {
        let expected = expected(&case);
        prop_assert_eq!(&found(&case, side), &expected);
        prop_assert_eq!(&found(&case, 64), &expected);
        prop_assert_eq!(&found_by_sending(&case, side), &expected);
    }
}

/// A level corridor one cell wide that winds inward between walls; its only way out is where it begins at the west edge.
fn spiral(side: usize) -> Raster<f32> {
    let frame = Frame::new(side, side, (0.0, 0.0), (1.0, 1.0)).unwrap();
    let mut ground = Raster::filled(frame, 9.0);
    let mut cell = frame.cell(0, 1);
    let mut step = (1, 0);
    let is_free = |ground: &Raster<f32>, cell: Cell| {
        let (col, row) = frame.col_row(cell);
        (1..side - 1).contains(&col) && (1..side - 1).contains(&row) && ground[cell] == 9.0
    };
    loop {
        ground[cell] = 1.0;
        let ahead = |step: (i32, i32)| {
            let next = frame.step(cell, step).filter(|&next| is_free(&ground, next))?;
            // A wall stays between two turns of the corridor.
            frame.step(next, step).is_none_or(|beyond| ground[beyond] == 9.0).then_some(next)
        };
        let turned = (-step.1, step.0);
        match (ahead(step), ahead(turned)) {
            (Some(next), _) => cell = next,
            (None, Some(next)) => (cell, step) = (next, turned),
            (None, None) => return ground,
        }
    }
}

#[test]
fn a_spiral_flat_settles_across_many_tiles() {
    let ground = spiral(41);
    assert!(ground.values.iter().filter(|&&z| z == 1.0).count() > 600);
    check(&Case::bare(ground), &[3, 5, 13, 14, 41]);
}

#[test]
fn a_lake_larger_than_a_tile_drains_over_its_lip() {
    let frame = Frame::new(40, 40, (0.0, 0.0), (1.0, 1.0)).unwrap();
    let mut ground = Raster::filled(frame, 2.0);
    for cell in (0..frame.len()).map(Cell) {
        let (col, row) = frame.col_row(cell);
        if (3..37).contains(&col) && (3..37).contains(&row) {
            ground[cell] = 1.0;
        }
    }
    check(&Case::bare(ground.clone()), &[4, 7, 8, 16]);
    ground[frame.cell(20, 0)] = 1.5;
    ground[frame.cell(20, 1)] = 1.5;
    ground[frame.cell(20, 2)] = 1.5;
    check(&Case::bare(ground), &[4, 7, 8, 16]);
}

#[test]
fn single_rows_columns_and_cells() {
    let check = |rows: &str| check(&Case::bare(grid(rows)), &[1, 2, 64]);
    check("3");
    check(".");
    check("3 1 2 . 5 5 5");
    check("3\n1\n.\n5\n5");
    check("1 1\n1 1");
    check(". . .\n. . .");
    check("7 7 7\n7 7 7\n7 7 7");
}

/// Flats are searched in squares of eight by eight cells, margins of tiles included: tiles of every width around that.
#[test]
fn flats_in_rasters_and_tiles_of_any_width() {
    for cols in [1, 2, 5, 6, 7, 8, 9, 13, 14, 15, 61, 62, 63, 64, 65, 66] {
        for rows in [1, 2, 6, 14, 17] {
            let frame = Frame::new(cols, rows, (0.0, 0.0), (1.0, 1.0)).unwrap();
            // Level ground with few banks, a few holes in it and missing data here and there.
            let height = |index: usize| match (index * 2_654_435_761 % 4_294_967_296) >> 20 {
                0..60 => f32::NAN,
                60..100 => 1.0,
                100..600 => 4.0,
                600..800 => 3.0,
                _ => 2.0,
            };
            let ground = Raster { frame, values: (0..frame.len()).map(height).collect() };
            check(&Case::bare(ground), &[5, 6, 7, 14, 62, 64]);
        }
    }
}

#[test]
fn a_wide_strip() {
    let frame = Frame::new(65_536, 3, (0.0, 0.0), (1.0, 1.0)).unwrap();
    let values = (0..frame.len()).map(|index| ((index * 7919) % 97) as f32 / 8.0).collect();
    check(&Case::bare(Raster { frame, values }), &[64, 512]);
}

#[test]
fn levels_far_apart_take_the_careful_way() {
    // 1e-30 and 2e-30 below 1000 are one drop in double precision: the first direction counts.
    let check = |rows: &str| check(&Case::bare(grid(rows)), &[1, 3]);
    check("1000 1000 2e-30\n1000 1000 1000\n1000 1000 1e-30");
    check("1000 1000 1000\n2e-30 1000 1e-30\n1000 1000 1000");
}

/// Values after they were sent from one machine to another.
fn sent<T: Serialize + DeserializeOwned>(values: &[T]) -> Vec<T> {
    values.iter().map(sent_one).collect()
}

fn sent_one<T: DeserializeOwned>(value: &impl Serialize) -> T {
    postcard::from_bytes(&postcard::to_stdvec(value).unwrap()).unwrap()
}

/// What tiles counted against the depressions that one search over the whole raster finds.
fn check_raised(case: &Case, surface: &Raster<f32>, raised: Raised) {
    let depressions: Vec<_> = depressions(&case.ground, surface).collect();
    assert_eq!(raised.areas, depressions.len());
    assert_eq!(raised.cells, depressions.iter().map(|depression| depression.cells.len()).sum::<usize>());
    assert_eq!(raised.cells_with_data, case.ground.values.iter().filter(|z| !z.is_nan()).count());
    assert_eq!(raised.deepest_m, depressions.iter().map(|depression| depression.depth_m).fold(0.0, f64::max));
    let volume_m3: f64 = depressions.iter().map(|depression| depression.volume_m3).sum();
    let found_m3 = raised.fill_m * case.ground.frame.cell_square_metres();
    assert!((found_m3 - volume_m3).abs() <= 1e-9 * volume_m3.max(1.0), "{found_m3} m³ against {volume_m3} m³");
}

/// Filled into another raster, the surface is the same.
fn check_filled_beside(case: &Case, tiling: &Tiling, filling: &Filling, levels: &[Vec<f32>], expected: &Raster<f32>) {
    let surface = SharedRaster::new(Raster::filled(tiling.frame, 0.0));
    let Ok(_) = tiling.each_tile(|tile| filling.finish(tile, &case.ground, &surface, &levels[tile]));
    assert_eq!(bits(&surface.into_raster()), bits(expected));
}

/// The same as [`found`] by single steps, between which everything that tiles exchange is sent, there and back.
fn found_by_sending(case: &Case, side: usize) -> Answer {
    let frame = case.ground.frame;
    let tiling = Tiling { frame, side };
    let mut links = case.links.clone();
    let mut blocked = Vec::new();
    let surface = loop {
        let surface = SharedRaster::new(case.ground.clone());
        let filling = Filling::new(&tiling, &links, &case.sinks);
        let Ok(tiles) = tiling.each_tile(|tile| filling.solve(tile, &surface));
        match filling.join(&sent(&tiles)) {
            Ok(levels) => {
                // In place, as a run larger than memory does.
                let levels = sent(&levels);
                let Ok(tiles) = tiling.each_tile(|tile| filling.finish_in_place(tile, &surface, &levels[tile]));
                let surface = surface.into_raster();
                let counted = Raised::of(&tiling, &sent(&tiles));
                check_raised(case, &surface, counted);
                assert_eq!(raised(&tiling, &case.ground, &surface), Ok(counted));
                check_filled_beside(case, &tiling, &filling, &levels, &surface);
                break surface;
            }
            Err(more) => {
                links = links.without(&more);
                blocked.extend(more);
            }
        }
    };
    let code = SharedRaster::new(Raster::filled(frame, direction::NODATA));
    let constraints = FlowConstraints { links: &links, sinks: &case.sinks, channels: &case.channels };
    let Ok(mut directions) = Directions::new(&tiling, &surface, constraints);
    loop {
        let Ok(tiles) = tiling.each_tile(|tile| directions.solve(tile, &surface, &code));
        let mut open = directions.join(sent(&tiles));
        while let Some(due) = open.due() {
            let tasks = due.into_iter().filter_map(|tile| Some((tile, sent_one::<FlatTask>(&open.task(tile)?))));
            let found: Vec<_> = tasks.map(|(tile, task)| (tile, directions.spread(task))).collect();
            open.take(sent(&found));
        }
        let undrained = open.undrained();
        if undrained.is_empty() {
            for tile in open.tiles() {
                let Ok(()) = directions.finish(tile, &code, &sent_one(&open.reply(tile)));
            }
            break;
        }
        drop(open);
        directions.let_out(&undrained);
    }
    let area = SharedRaster::new(Raster::filled(frame, 0_u64));
    let counting = Counting::new(&tiling, &links);
    let Ok(tiles) = tiling.each_tile(|tile| counting.solve(tile, &code));
    let inflows = sent(&counting.join(sent(&tiles)));
    let Ok(_) = tiling.each_tile(|tile| counting.finish(tile, &code, &area, &inflows[tile]));
    let labels = SharedRaster::new(seeds(case));
    let labelling = Labelling::new(&tiling, &links);
    let Ok(tiles) = tiling.each_tile(|tile| labelling.solve(tile, &code, &labels));
    let beyond = sent(&labelling.join(sent(&tiles)));
    let Ok(_) = tiling.each_tile(|tile| labelling.finish(tile, &code, &labels, &beyond[tile]));
    Answer {
        blocked,
        surface: bits(&surface),
        direction: code.into_raster().values,
        area: area.into_raster().values,
        labels: labels.into_raster().values,
    }
}
