//! What filling changed.

use fallwright_units::{Cell, CellSet, Raster};

/// A connected area that filling raised.
#[derive(Clone, Debug, PartialEq)]
pub struct Depression {
    /// In the order of their index.
    pub cells: Vec<Cell>,
    /// Greatest depth of fill, metres.
    pub depth_m: f64,
    /// Cubic metres of fill.
    pub volume_m3: f64,
    /// Level of the filled surface at the deepest cell, metres above the datum.
    pub level_m: f64,
    /// The deepest cell; ties go to the lower index.
    pub deepest: Cell,
}

/// The depressions that were filled, in the order of their first cell, one after the other: together their cells may take
/// more memory than the rasters.
///
/// *Units*: both surfaces in metres; `filled` is nowhere below `ground`. *Complexity*: O(n).
pub fn depressions(ground: &Raster<f32>, filled: &Raster<f32>) -> impl Iterator<Item = Depression> {
    let mut seen = CellSet::new(ground.frame.len());
    (0..ground.frame.len()).map(Cell).filter_map(move |start| {
        let raised = |cell: Cell| filled[cell] > ground[cell];
        if !raised(start) || !seen.insert(start) {
            return None;
        }
        let mut cells = vec![start];
        let mut next_unvisited = 0;
        while let Some(&cell) = cells.get(next_unvisited) {
            next_unvisited += 1;
            for (_, next) in ground.frame.neighbours(cell) {
                if raised(next) && seen.insert(next) {
                    cells.push(next);
                }
            }
        }
        cells.sort_unstable();
        Some(describe(ground, filled, cells))
    })
}

fn describe(ground: &Raster<f32>, filled: &Raster<f32>, cells: Vec<Cell>) -> Depression {
    let depth = |cell: Cell| f64::from(filled[cell]) - f64::from(ground[cell]);
    let deepest =
        cells.iter().copied().fold(cells[0], |best, cell| if depth(cell) > depth(best) { cell } else { best });
    Depression {
        depth_m: depth(deepest),
        volume_m3: cells.iter().map(|&cell| depth(cell)).sum::<f64>() * ground.frame.cell_square_metres(),
        level_m: f64::from(filled[deepest]),
        deepest,
        cells,
    }
}

/// The lowest of some cells, where a kept depression's water ends; ties go to the first. `None` where none has data.
pub fn lowest_cell(ground: &Raster<f32>, cells: impl IntoIterator<Item = Cell>) -> Option<Cell> {
    cells.into_iter().filter(|&cell| !ground[cell].is_nan()).min_by(|&a, &b| ground[a].total_cmp(&ground[b]))
}
