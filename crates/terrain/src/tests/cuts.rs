//! Cuts tile by tile against the textbook's, over the whole raster.

use std::collections::BTreeMap;
use std::convert::Infallible;

use fallwright_units::{Cell, Frame, Raster, SharedRaster};
use proptest::prelude::*;

use super::cut_beds;
use super::properties::{Case, cases};
use crate::tiled::{self, Cutting, TilePlace, Tiling};
use crate::{CutLimits, Links, depressions, fill, textbook};

fn limits() -> impl Strategy<Value = CutLimits> {
    (0.0..12.0, 0.0..6.0).prop_map(|(longest_m, deepest_m)| CutLimits { longest_m, deepest_m })
}

/// Cuts and the lowered surface, found tile by tile, are those of the textbook.
fn check(ground: &Raster<f32>, links: &Links, sinks: &[Cell], limits: CutLimits, side: usize) {
    let filled = fill(ground, links, sinks);
    if !filled.blocked.is_empty() {
        return;
    }
    let expected = textbook::cuts(ground, &filled.surface, links, limits);
    let mut expected_surface = ground.clone();
    for (cell, bed) in cut_beds(&expected) {
        expected_surface[cell] = bed.min(expected_surface[cell]);
    }
    let tiling = Tiling { frame: ground.frame, side };
    let lowered = SharedRaster::new(Raster::filled(ground.frame, 0.0));
    let Ok(pits) = tiled::pits(&tiling, ground, &filled.surface);
    let cutting = Cutting::new(&tiling, ground, links, limits);
    let cut = |tile: usize| {
        let cuts = cutting.solve(tile, &pits[tile])?;
        let beyond = cutting.copy_lowered(tile, &cuts, &lowered)?;
        Ok((cuts, beyond))
    };
    let Ok(tiles): Result<Vec<_>, Infallible> = tiling.each_tile(cut);
    let (found, beyond): (Vec<_>, Vec<_>) = tiles.into_iter().unzip();
    let Ok(()) = tiled::lower(&tiling, &lowered, beyond.concat());
    let mut found: Vec<_> = found.into_iter().flatten().collect();
    found.sort_by_key(|cut| cut.way.path[0]);
    assert_eq!(found, expected, "tiles of {side}: {ground:?}");
    let bits = |raster: &Raster<f32>| raster.values.iter().map(|z| z.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&lowered.into_raster()), bits(&expected_surface), "tiles of {side}: {ground:?}");
    check_depressions(&tiling, ground, &filled.surface, &pits);
}

/// The depression of every pit is that which one search over the whole raster finds.
fn check_depressions(tiling: &Tiling, ground: &Raster<f32>, filled: &Raster<f32>, pits: &[Vec<u32>]) {
    let Ok(found) = tiled::pit_depressions(tiling, ground, filled, pits);
    let expected: BTreeMap<Cell, Cell> = depressions(ground, filled)
        .flat_map(|depression| depression.cells.clone().into_iter().map(move |cell| (cell, depression.cells[0])))
        .collect();
    for (tile, (pits, found)) in pits.iter().zip(&found).enumerate() {
        let cols = tiling.window(tile).cols;
        let cell = |&pit: &u32| tiling.cell(TilePlace { tile, col: pit as usize % cols, row: pit as usize / cols });
        let expected: Vec<Cell> = pits.iter().map(|pit| expected[&cell(pit)]).collect();
        assert_eq!(found, &expected, "tiles of {}: {ground:?}", tiling.side);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn tiles_find_the_cuts_of_the_textbook(case in cases(), limits in limits(), side in 1_usize..14) {
        let Case { ground, links, sinks, .. } = case;
        check(&ground, &Links::new(&links).unwrap(), &sinks, limits, side);
    }
}

/// Searches that go through several squares and tiles, level bottoms across tiles, pits of every size.
#[test]
fn wide_searches_cross_squares_and_tiles() {
    let frame = Frame::new(300, 210, (0.0, 0.0), (1.0, 1.5)).unwrap();
    let height = |cell: Cell| {
        let (col, row) = frame.col_row(cell);
        let chance = (cell.0 as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 54;
        match (col, row) {
            (120..125, 90..96) => f32::NAN,
            // A lake whose bottom is level across many tiles, behind a dam.
            (30..220, 20..80) => 3.0,
            (20..230, 10..90) => 5.0 + chance as f32 / 1000.0,
            _ => 4.0 + chance as f32 / 200.0 - col as f32 / 300.0,
        }
    };
    let ground = Raster { frame, values: (0..frame.len()).map(|index| height(Cell(index))).collect() };
    for (longest_m, deepest_m) in [(60.0, 3.0), (4.0, 1.0)] {
        for side in [17, 64, 512] {
            check(&ground, &Links::default(), &[], CutLimits { longest_m, deepest_m }, side);
        }
    }
}
