//! What filling changed.

use fallwright_units::{Cell, Raster};

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

/// The depressions that were filled, in the order of their first cell.
///
/// *Units*: both surfaces in metres; `filled` is nowhere below `ground`. *Complexity*: O(n).
pub fn depressions(ground: &Raster<f32>, filled: &Raster<f32>) -> Vec<Depression> {
    let raised = |cell: Cell| filled[cell] > ground[cell];
    let mut seen = vec![false; ground.frame.len()];
    let mut found = Vec::new();
    for start in (0..seen.len()).map(Cell) {
        if seen[start.0] || !raised(start) {
            continue;
        }
        seen[start.0] = true;
        let mut cells = vec![start];
        let mut next_unvisited = 0;
        while let Some(&cell) = cells.get(next_unvisited) {
            next_unvisited += 1;
            for (_, next) in ground.frame.neighbours(cell) {
                if raised(next) && !std::mem::replace(&mut seen[next.0], true) {
                    cells.push(next);
                }
            }
        }
        cells.sort_unstable();
        found.push(describe(ground, filled, cells));
    }
    found
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
