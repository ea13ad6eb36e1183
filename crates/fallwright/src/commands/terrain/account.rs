//! What conditioning did, counted.

use std::cmp::Reverse;

use fallwright_report::counts::{SuspectedCulvert, TerrainCounts};
use fallwright_terrain::tiled::Raised;
use fallwright_units::{Cell, TileSource, Window, rounded_metres};

use super::cut_tally::CutTally;

/// Suspected culverts that are listed: those through which most land drains.
const LISTED_CULVERTS: usize = 10;

/// `area` is the cells that drain through each cell.
pub(super) fn counts<C: Copy + Default + Into<u64>, E>(
    raised: &Raised,
    cuts: &CutTally,
    area: &impl TileSource<C, Error = E>,
) -> Result<TerrainCounts, E> {
    let cubic_metres = |sum_m: f64| rounded_metres(sum_m * area.frame().cell_square_metres());
    Ok(TerrainCounts {
        cells_with_elevation: raised.cells_with_data,
        depressions_kept: 0,
        depressions_filled: raised.areas,
        cells_raised: raised.cells,
        fill_m3: cubic_metres(raised.fill_m),
        deepest_fill_m: raised.deepest_m,
        depressions_cut: cuts.cuts,
        cut_m3: cubic_metres(cuts.lowering_m()),
        suspected_culverts: cuts.suspected.len(),
        largest_suspected_culverts: largest(cuts, area)?,
    })
}

fn largest<C: Copy + Default + Into<u64>, E>(
    cuts: &CutTally,
    area: &impl TileSource<C, Error = E>,
) -> Result<Vec<SuspectedCulvert>, E> {
    let frame = area.frame();
    let mut suspected = Vec::new();
    for culvert in &cuts.suspected {
        suspected.push((at(area, culvert.releases)?.into(), culvert.middle, culvert.depth_m));
    }
    suspected.sort_unstable_by_key(|&(released, middle, _)| (Reverse(released), middle));
    suspected.truncate(LISTED_CULVERTS);
    let listed = |(released, middle, depth_m)| {
        let (x, y) = frame.centre(middle);
        SuspectedCulvert { x, y, depth_m, draining_ha: frame.hectares(released) }
    };
    Ok(suspected.into_iter().map(listed).collect())
}

fn at<C: Copy + Default, E>(area: &impl TileSource<C, Error = E>, cell: Cell) -> Result<C, E> {
    let (col, row) = area.frame().col_row(cell);
    let mut value = [C::default()];
    area.read(Window { col, row, cols: 1, rows: 1 }, &mut value, 1)?;
    Ok(value[0])
}
