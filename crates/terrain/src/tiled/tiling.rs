//! A frame cut into square tiles, and the cells along a tile's edge.

use fallwright_units::{Cell, Frame, NEIGHBOURS, Window};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::patch::Patch;
use crate::link::Links;

/// A frame cut into tiles, numbered row by row from the north-west; those at the east and south may be smaller.
#[derive(Clone, Copy, Debug)]
pub struct Tiling {
    pub frame: Frame,
    /// Columns and rows of a tile, at least 1.
    pub side: usize,
}

/// A cell by its tile and its column and row inside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TilePlace {
    pub tile: usize,
    pub col: usize,
    pub row: usize,
}

impl Tiling {
    /// Number of tiles.
    pub fn len(&self) -> usize {
        self.across() * self.frame.rows().div_ceil(self.side)
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    fn across(&self) -> usize {
        self.frame.cols().div_ceil(self.side)
    }

    pub fn window(&self, tile: usize) -> Window {
        let (col, row) = (tile % self.across() * self.side, tile / self.across() * self.side);
        let cols = self.side.min(self.frame.cols() - col);
        let rows = self.side.min(self.frame.rows() - row);
        Window { col, row, cols, rows }
    }

    /// Does some work on every tile, in parallel; returns what it gives in the order of the tiles.
    ///
    /// # Errors
    /// A failure of the work on some tile.
    pub fn each_tile<R: Send, E: Send>(&self, work: impl Fn(usize) -> Result<R, E> + Sync) -> Result<Vec<R>, E> {
        (0..self.len()).into_par_iter().map(&work).collect()
    }

    pub fn ring(&self, tile: usize) -> Ring {
        let Window { cols, rows, .. } = self.window(tile);
        Ring { cols, rows }
    }

    pub fn place(&self, cell: Cell) -> TilePlace {
        let (col, row) = self.frame.col_row(cell);
        let tile = row / self.side * self.across() + col / self.side;
        TilePlace { tile, col: col % self.side, row: row % self.side }
    }

    pub fn cell(&self, place: TilePlace) -> Cell {
        let window = self.window(place.tile);
        self.frame.cell(window.col + place.col, window.row + place.row)
    }

    /// A cell's place in its tile, as `row * cols + col` of it.
    pub(crate) fn number(&self, cell: Cell) -> u32 {
        let place = self.place(cell);
        (place.row * self.window(place.tile).cols + place.col) as u32
    }

    /// The cell at `row * cols + col` of a tile.
    pub(crate) fn numbered(&self, tile: usize, number: u32) -> Cell {
        let cols = self.window(tile).cols;
        self.cell(TilePlace { tile, col: number as usize % cols, row: number as usize / cols })
    }

    /// A cell's tile and its position in the patch of that tile.
    pub(crate) fn index(&self, cell: Cell) -> (usize, usize) {
        let place = self.place(cell);
        (place.tile, self.ring(place.tile).in_patch((place.col, place.row)))
    }

    /// Both ends of all links by tile: positions in its patch, ascending.
    pub(crate) fn ends(&self, links: &Links) -> Vec<Vec<usize>> {
        let mut ends = vec![Vec::new(); self.len()];
        for end in links.iter().flat_map(|link| [link.inlet, link.outlet]) {
            let (tile, index) = self.index(end);
            ends[tile].push(index);
        }
        for ends in &mut ends {
            ends.sort_unstable();
            ends.dedup();
        }
        ends
    }

    /// A cell's position in the patch of a tile; `None` where it lies beyond the margin.
    pub(crate) fn index_seen_from(&self, tile: usize, cell: Cell) -> Option<usize> {
        let (window, (col, row)) = (self.window(tile), self.frame.col_row(cell));
        let (col, row) = ((col + 1).checked_sub(window.col)?, (row + 1).checked_sub(window.row)?);
        (col < window.cols + 2 && row < window.rows + 2).then(|| row * (window.cols + 2) + col)
    }

    /// The cells at positions in the patch of a tile.
    pub(crate) fn cells_at(&self, tile: usize, positions: &[usize]) -> Vec<Cell> {
        let window = self.window(tile);
        let stride = window.cols + 2;
        let cell = |&index: &usize| self.frame.cell(window.col + index % stride - 1, window.row + index / stride - 1);
        positions.iter().map(cell).collect()
    }

    /// Where a place lies along the edge of its tile.
    ///
    /// *Panics*: inside the tile.
    pub(crate) fn ring_position(&self, place: TilePlace) -> usize {
        self.ring(place.tile).position(place.col, place.row).expect("a place along its tile's edge")
    }

    /// The neighbour of a place at a column and row step, in whatever tile it lies; `None` beyond the frame.
    pub fn step(&self, place: TilePlace, step: (i32, i32)) -> Option<TilePlace> {
        let (dc, dr) = (step.0 as isize, step.1 as isize);
        let window = self.window(place.tile);
        let col = (window.col + place.col).checked_add_signed(dc)?;
        let row = (window.row + place.row).checked_add_signed(dr)?;
        (col < self.frame.cols() && row < self.frame.rows()).then(|| self.place(self.frame.cell(col, row)))
    }

    /// Tells each cell of other tiles around a tile: column and row counted from those of the margin's corner, the tile, and
    /// the position along that tile's edge.
    pub(crate) fn around(&self, tile: usize, mut report: impl FnMut(usize, usize, usize, usize)) {
        let here = self.ring(tile);
        for (dc, dr) in NEIGHBOURS {
            let Some(beside) = self.tile_beside(tile, (dc, dr)) else { continue };
            let margin = |step: i32, cells: usize, at: usize| match step {
                -1 => 0,
                0 => at + 1,
                _ => cells + 1,
            };
            for (at, position) in self.ring(beside).side((-dc, -dr)).enumerate() {
                report(margin(dc, here.cols, at), margin(dr, here.rows, at), beside, position);
            }
        }
    }

    /// The tile at a column and row step from another; `None` beyond the frame.
    pub(crate) fn tile_beside(&self, tile: usize, (dc, dr): (i32, i32)) -> Option<usize> {
        let (across, down) = (self.across(), self.frame.rows().div_ceil(self.side));
        let col = (tile % across).checked_add_signed(dc as isize).filter(|&col| col < across)?;
        let row = (tile / across).checked_add_signed(dr as isize).filter(|&row| row < down)?;
        Some(row * across + col)
    }

    /// Pairs of neighbours of which the first lies in a tile and the second in another.
    pub fn across_edge(&self, tile: usize) -> impl Iterator<Item = (TilePlace, TilePlace)> + '_ {
        let ring = self.ring(tile);
        ring.cells().flat_map(move |(col, row)| {
            let here = TilePlace { tile, col, row };
            let leaves = move |&(dc, dr): &(i32, i32)| {
                let col = col as i64 + i64::from(dc);
                let row = row as i64 + i64::from(dr);
                col < 0 || row < 0 || col >= ring.cols as i64 || row >= ring.rows as i64
            };
            NEIGHBOURS.into_iter().filter(leaves).filter_map(move |step| Some((here, self.step(here, step)?)))
        })
    }
}

/// The cells along the edge of a tile: the north row, the south row, then the west and east cells of the rows between.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ring {
    pub cols: usize,
    pub rows: usize,
}

impl Ring {
    pub(crate) fn of<T>(patch: &Patch<T>) -> Self {
        Self { cols: patch.cols, rows: patch.rows }
    }

    pub fn len(&self) -> usize {
        match (self.cols, self.rows) {
            (cols, 1) => cols,
            (1, rows) => rows,
            (cols, rows) => 2 * (cols + rows) - 4,
        }
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Columns and rows in the order of their positions.
    pub fn cells(self) -> impl Iterator<Item = (usize, usize)> {
        let Self { cols, rows } = self;
        let north = (0..cols).map(|col| (col, 0));
        let south = (0..cols).map(move |col| (col, rows - 1)).filter(move |_| rows > 1);
        let between = (1..rows.max(2) - 1)
            .flat_map(move |row| [(0, row), (cols - 1, row)].into_iter().take(if cols > 1 { 2 } else { 1 }));
        north.chain(south).chain(between)
    }

    /// The position in the tile's patch of a cell.
    pub(crate) fn in_patch(self, (col, row): (usize, usize)) -> usize {
        (row + 1) * (self.cols + 2) + col + 1
    }

    /// The positions in the tile's patch of all cells, in their order.
    pub(crate) fn patch_cells(self) -> impl Iterator<Item = usize> {
        self.cells().map(move |place| self.in_patch(place))
    }

    /// Positions of the cells of the side, or of the corner, that faces a column and row step.
    pub(crate) fn side(self, (dc, dr): (i32, i32)) -> impl Iterator<Item = usize> {
        let part = |step: i32, cells: usize| match step {
            -1 => 0..1,
            0 => 0..cells,
            _ => cells - 1..cells,
        };
        let (cols, rows) = (part(dc, self.cols), part(dr, self.rows));
        // One of the two has one part.
        let longest = cols.len().max(rows.len());
        (0..longest).map(move |at| {
            let along = |part: &std::ops::Range<usize>| part.start + at.min(part.len() - 1);
            self.position(along(&cols), along(&rows)).expect("a cell along the edge")
        })
    }

    /// The position of a cell by its position in the tile's patch; `None` where it does not lie along the edge.
    pub(crate) fn of_patch(self, cell: usize) -> Option<usize> {
        let stride = self.cols + 2;
        self.position(cell % stride - 1, cell / stride - 1)
    }

    /// The position of a cell; `None` where it does not lie along the edge.
    pub fn position(&self, col: usize, row: usize) -> Option<usize> {
        if row == 0 {
            return Some(col);
        }
        if row == self.rows - 1 {
            return Some(self.cols + col);
        }
        match (col, self.cols) {
            (0, 1) => Some(2 + row - 1),
            (0, cols) => Some(2 * cols + 2 * (row - 1)),
            (col, cols) if col == cols - 1 => Some(2 * cols + 2 * (row - 1) + 1),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_ring_cell_has_its_position() {
        for (cols, rows) in [(1, 1), (1, 5), (5, 1), (2, 2), (2, 3), (3, 2), (4, 6), (7, 3)] {
            let ring = Ring { cols, rows };
            let cells: Vec<_> = ring.cells().collect();
            assert_eq!(cells.len(), ring.len(), "{cols} x {rows}");
            for (position, &(col, row)) in cells.iter().enumerate() {
                assert_eq!(ring.position(col, row), Some(position), "{cols} x {rows}, {col} {row}");
            }
            let inside = (0..rows).flat_map(|row| (0..cols).map(move |col| (col, row)));
            assert_eq!(inside.filter(|&(col, row)| ring.position(col, row).is_some()).count(), ring.len());
        }
    }

    #[test]
    fn tiles_cover_the_frame_once() {
        let tiling = Tiling { frame: Frame::new(10, 7, (0.0, 0.0), (1.0, 1.0)).unwrap(), side: 4 };
        let cells: usize = (0..tiling.len()).map(|tile| tiling.window(tile).len()).sum();
        assert_eq!((tiling.len(), cells), (6, 70));
        for cell in (0..70).map(Cell) {
            assert_eq!(tiling.cell(tiling.place(cell)), cell);
        }
    }
}
