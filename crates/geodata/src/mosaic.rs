//! Several tiles on one lattice of cells.

use fallwright_units::{Frame, Raster, SharedRaster, TileSink, VerticalUnit, Window};

use crate::Problem;
use crate::read_error::ReadError;
use crate::tile::Tile;

/// The largest side of a cell, in metres or in the unit of the raster's reference system: with larger ones no field is seen
/// (our choice, no source).
pub const LARGEST_CELL_M: f64 = 10_000.0;

/// Largest shift between the cells of two tiles, in cells. Our choice.
const LARGEST_SHIFT: f64 = 1e-3;

/// Longest list of missing extents. Our choice.
const MOST_GAPS: usize = 20;

/// Where a tile lies on the lattice: first and one past the last column and row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Span {
    cols: (i64, i64),
    rows: (i64, i64),
}

/// Tiles placed on the frame of their bounding rectangle.
#[derive(Clone, Debug)]
pub(crate) struct Mosaic {
    pub(crate) frame: Frame,
    /// In the order in which they are read.
    tiles: Vec<(Tile, Span)>,
}

impl Mosaic {
    /// # Errors
    /// A tile with another cell size or off the lattice of the first, or an extent that no tile covers.
    pub(crate) fn place(tiles: Vec<Tile>) -> Result<Self, Vec<Problem>> {
        let first = &tiles[0];
        let mut problems = Vec::new();
        let mut spans = Vec::with_capacity(tiles.len());
        for tile in &tiles {
            match span(first, tile) {
                Ok(span) => spans.push(span),
                Err(problem) => problems.push(problem),
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let whole = bounding(&spans);
        let frame = frame_of(first, whole)?;
        let gaps = gaps(whole, &spans);
        if !gaps.is_empty() {
            return Err(gaps.into_iter().map(|gap| missing_tile(&tiles, &frame, gap)).collect());
        }
        let to_frame = |span: Span| Span {
            cols: (span.cols.0 - whole.cols.0, span.cols.1 - whole.cols.0),
            rows: (span.rows.0 - whole.rows.0, span.rows.1 - whole.rows.0),
        };
        Ok(Self { frame, tiles: tiles.into_iter().zip(spans.into_iter().map(to_frame)).collect() })
    }

    /// Largest piece that has to be decoded at once, in bytes.
    pub(crate) fn block_bytes(&self) -> u64 {
        self.tiles.iter().map(|(tile, _)| tile.block_bytes).max().unwrap_or(0)
    }

    /// Heights in metres. Where tiles overlap, the first with a value counts.
    pub(crate) fn read(&self, unit: VerticalUnit) -> Result<Raster<f32>, Vec<Problem>> {
        let ground = SharedRaster::new(Raster::filled(self.frame, f32::NAN));
        match self.read_into(unit, &ground) {
            Ok(_) => Ok(ground.into_raster()),
            Err(ReadError::Input(problems)) => Err(problems),
        }
    }

    /// The same into a raster that holds no heights yet. Returns whether any cell has a height.
    pub(crate) fn read_into<E: Send>(
        &self,
        unit: VerticalUnit,
        ground: &impl TileSink<f32, Error = E>,
    ) -> Result<bool, ReadError<E>> {
        let mut written = Ok(());
        let mut any = false;
        let mut merged = Vec::new();
        self.each_part(unit, |window, heights| {
            any |= heights.iter().any(|height| !height.is_nan());
            let mut put = || {
                if self.tiles.len() == 1 {
                    return ground.write(window, heights, window.cols);
                }
                merged.resize(heights.len(), 0.0);
                ground.read(window, &mut merged, window.cols)?;
                let cells = merged.iter_mut().zip(heights);
                cells.filter(|(cell, _)| cell.is_nan()).for_each(|(cell, &height)| *cell = height);
                ground.write(window, &merged, window.cols)
            };
            if written.is_ok() {
                written = put();
            }
        })?;
        written.map_err(ReadError::Output)?;
        Ok(any)
    }

    /// Whether several tiles may lie over one cell, so that a raster must say first which cells have no height.
    pub(crate) fn has_several_tiles(&self) -> bool {
        self.tiles.len() > 1
    }

    /// Hands over every tile in metres, a window at a time.
    fn each_part(&self, unit: VerticalUnit, mut take: impl FnMut(Window, &[f32]) + Send) -> Result<(), Vec<Problem>> {
        let mut problems = Vec::new();
        for (tile, span) in &self.tiles {
            let (col, first) = (span.cols.0 as usize, span.rows.0 as usize);
            let read = tile.read(unit, |inside, heights| {
                take(Window { col: col + inside.col, row: first + inside.row, ..inside }, heights);
            });
            problems.extend(read.err());
        }
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }
}

fn span(first: &Tile, tile: &Tile) -> Result<Span, Problem> {
    let drift = |size: f64, other: f64, count: usize| ((other - size) / size * count as f64).abs();
    if drift(first.cell_width, tile.cell_width, tile.cols) > LARGEST_SHIFT
        || drift(first.cell_height, tile.cell_height, tile.rows) > LARGEST_SHIFT
    {
        return Err(Problem::in_file(
            &tile.path,
            format!("cells of {} by {}", tile.cell_width, tile.cell_height),
            format!("cells of {} by {}, as in {}", first.cell_width, first.cell_height, first.path.display()),
            "give tiles of one cell size, or resample this one",
        ));
    }
    let col = (tile.west - first.west) / first.cell_width;
    let row = (first.north - tile.north) / first.cell_height;
    let shift = (col - col.round()).abs().max((row - row.round()).abs());
    if shift > LARGEST_SHIFT {
        return Err(Problem::in_file(
            &tile.path,
            format!("cells that lie {shift:.3} of a cell off those of {}", first.path.display()),
            "tiles whose cells share one lattice",
            "resample this tile to the lattice of the others",
        ));
    }
    let (col, row) = (col.round() as i64, row.round() as i64);
    Ok(Span { cols: (col, col + tile.cols as i64), rows: (row, row + tile.rows as i64) })
}

fn bounding(spans: &[Span]) -> Span {
    spans.iter().fold(spans[0], |a, b| Span {
        cols: (a.cols.0.min(b.cols.0), a.cols.1.max(b.cols.1)),
        rows: (a.rows.0.min(b.rows.0), a.rows.1.max(b.rows.1)),
    })
}

fn frame_of(first: &Tile, whole: Span) -> Result<Frame, Vec<Problem>> {
    if first.cell_width.max(first.cell_height) > LARGEST_CELL_M {
        return Err(vec![Problem::in_file(
            &first.path,
            format!("cells of {} by {}", first.cell_width, first.cell_height),
            format!("cells of {LARGEST_CELL_M} m at most"),
            "check the file's position and cell size",
        )]);
    }
    let west = first.west + whole.cols.0 as f64 * first.cell_width;
    let north = first.north - whole.rows.0 as f64 * first.cell_height;
    let cols = (whole.cols.1 - whole.cols.0) as usize;
    let rows = (whole.rows.1 - whole.rows.0) as usize;
    Frame::new(cols, rows, (west, north), (first.cell_width, first.cell_height)).map_err(|error| {
        vec![Problem::in_file(&first.path, error.to_string(), "a raster with cells", "check the file's position")]
    })
}

/// Rectangles of the whole that no span covers, from north to south; neighbours of equal width are one.
fn gaps(whole: Span, spans: &[Span]) -> Vec<Span> {
    let edges = |of: fn(&Span) -> (i64, i64)| {
        let mut edges: Vec<i64> = spans.iter().flat_map(|span| [of(span).0, of(span).1]).collect();
        edges.sort_unstable();
        edges.dedup();
        edges
    };
    let (xs, ys) = (edges(|span| span.cols), edges(|span| span.rows));
    let mut covered = vec![false; (xs.len() - 1) * (ys.len() - 1)];
    let place = |edges: &[i64], edge: i64| edges.partition_point(|&other| other < edge);
    for span in spans {
        let cols = place(&xs, span.cols.0)..place(&xs, span.cols.1);
        for row in place(&ys, span.rows.0)..place(&ys, span.rows.1) {
            covered[row * (xs.len() - 1) + cols.start..row * (xs.len() - 1) + cols.end].fill(true);
        }
    }
    debug_assert_eq!((xs[0], ys[0]), (whole.cols.0, whole.rows.0));
    let mut gaps: Vec<Span> = Vec::new();
    for (row, cells) in covered.chunks(xs.len() - 1).enumerate() {
        let mut col = 0;
        while col < cells.len() {
            let length = cells[col..].iter().take_while(|covered| !**covered).count();
            if length > 0 {
                let (cols, rows) = ((xs[col], xs[col + length]), (ys[row], ys[row + 1]));
                match gaps.iter_mut().find(|gap| gap.cols == cols && gap.rows.1 == rows.0) {
                    Some(above) => above.rows.1 = rows.1,
                    None => gaps.push(Span { cols, rows }),
                }
            }
            col += length.max(1);
        }
    }
    gaps.truncate(MOST_GAPS);
    gaps
}

fn missing_tile(tiles: &[Tile], frame: &Frame, gap: Span) -> Problem {
    let first = &tiles[0];
    let x = |col: i64| first.west + col as f64 * first.cell_width;
    let y = |row: i64| first.north - row as f64 * first.cell_height;
    Problem::in_file(
        format!("{} and {} more", first.path.display(), tiles.len() - 1),
        format!("no tile between x {} and {}, y {} and {}", x(gap.cols.0), x(gap.cols.1), y(gap.rows.1), y(gap.rows.0)),
        format!(
            "tiles that cover the whole rectangle x {} to {}, y {} to {}",
            frame.west(),
            frame.east(),
            frame.south(),
            frame.north()
        ),
        "add the missing tile, or leave out tiles so that the rest form a rectangle",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(cols: (i64, i64), rows: (i64, i64)) -> Span {
        Span { cols, rows }
    }

    #[test]
    fn gaps_between_tiles() {
        let check = |spans: &[Span], expected: &[Span]| assert_eq!(gaps(bounding(spans), spans), expected);
        check(&[at((0, 5), (0, 5))], &[]);
        check(&[at((0, 5), (0, 5)), at((5, 9), (0, 5))], &[]);
        check(&[at((0, 6), (0, 5)), at((5, 9), (0, 5))], &[]);
        check(&[at((0, 5), (0, 5)), at((6, 9), (0, 5))], &[at((5, 6), (0, 5))]);
        check(&[at((0, 5), (0, 5)), at((5, 9), (0, 5)), at((0, 5), (5, 8))], &[at((5, 9), (5, 8))]);
        check(&[at((0, 2), (0, 2)), at((-2, 0), (2, 4))], &[at((-2, 0), (0, 2)), at((0, 2), (2, 4))]);
    }
}
