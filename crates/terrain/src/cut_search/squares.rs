//! Elevations around a search, read in squares as it reaches them, and what the search knows of each cell.

use fallwright_units::{Cell, Frame, NEIGHBOURS, TileSource, Window};

/// Columns and rows of a square: 16 KiB of elevations.
const SIDE: usize = 64;
/// Squares that are kept from one search to the next; 14 MiB.
const KEPT: usize = 256;
/// A square that is not held.
const ABSENT: u32 = u32::MAX;

/// A cell by its row and column; in the order of its index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Spot {
    row: u32,
    col: u32,
}

impl Spot {
    pub(super) fn new(frame: &Frame, cell: Cell) -> Self {
        let (col, row) = frame.col_row(cell);
        Self { row: row as u32, col: col as u32 }
    }

    pub(super) fn cell(self, frame: &Frame) -> Cell {
        frame.cell(self.col as usize, self.row as usize)
    }

    /// The neighbour at a position of [`NEIGHBOURS`]; it may lie beyond the frame.
    pub(super) fn neighbour(self, position: usize) -> Self {
        let (dc, dr) = NEIGHBOURS[position];
        Self { row: self.row.wrapping_add_signed(dr), col: self.col.wrapping_add_signed(dc) }
    }

    /// The cell that has this one as its neighbour at a position of [`NEIGHBOURS`].
    pub(super) fn before(self, position: usize) -> Self {
        let (dc, dr) = NEIGHBOURS[position];
        Self { row: self.row.wrapping_add_signed(-dr), col: self.col.wrapping_add_signed(-dc) }
    }
}

/// What a search knows of a cell, nothing at first: the cell before it on the path of least rise, by its place among that cell's
/// neighbours.
pub(super) const FROM: u8 = 0b111;
/// The path of least rise to it is final.
pub(super) const SETTLED: u8 = 1 << 3;
/// Some path to it was found.
pub(super) const REACHED: u8 = 1 << 4;
/// It lies in the pond or beside it.
pub(super) const FLOODED: u8 = 1 << 5;

struct Square {
    /// Its number, row by row from the north-west.
    number: usize,
    levels: Vec<f32>,
    /// The search whose marks these are.
    search: u32,
    marks: Vec<u8>,
    rise_sums: Vec<f64>,
}

impl Square {
    fn new() -> Self {
        const CELLS: usize = SIDE * SIDE;
        Self { number: 0, levels: vec![f32::NAN; CELLS], search: 0, marks: vec![0; CELLS], rise_sums: vec![0.0; CELLS] }
    }
}

/// Squares of one raster, for one search after another.
///
/// *Memory*: 53 KiB a square; as many as the largest search reaches, and 256 between searches.
pub(crate) struct Squares<'a, S> {
    source: &'a S,
    frame: Frame,
    across: usize,
    /// Position in `held` by the square's number.
    place: Vec<u32>,
    held: Vec<Square>,
    search: u32,
    reached: usize,
}

impl<'a, S: TileSource<f32>> Squares<'a, S> {
    pub(crate) fn new(source: &'a S) -> Self {
        let frame = source.frame();
        let across = frame.cols().div_ceil(SIDE);
        let place = vec![ABSENT; across * frame.rows().div_ceil(SIDE)];
        Self { source, frame, across, place, held: Vec::new(), search: 0, reached: 0 }
    }

    pub(super) fn frame(&self) -> &Frame {
        &self.frame
    }

    /// Begins another search, which knows nothing yet.
    pub(super) fn begin(&mut self) {
        if self.held.len() > KEPT || self.search == u32::MAX {
            for square in self.held.drain(..) {
                self.place[square.number] = ABSENT;
            }
            self.search = 0;
        }
        self.search += 1;
        self.reached = 0;
    }

    /// Squares in which this search knows something.
    pub(super) fn reached(&self) -> usize {
        self.reached
    }

    /// Metres; `NaN` without data and beyond the frame.
    pub(super) fn level(&mut self, spot: Spot) -> Result<f32, S::Error> {
        if spot.row as usize >= self.frame.rows() || spot.col as usize >= self.frame.cols() {
            return Ok(f32::NAN);
        }
        let place = self.hold(spot)?;
        Ok(self.held[place].levels[position(spot)])
    }

    /// Levels of the neighbours in the order of [`NEIGHBOURS`]; `NaN` without data and beyond the frame.
    pub(super) fn around(&mut self, spot: Spot) -> Result<[f32; 8], S::Error> {
        let (col, row) = (spot.col as usize % SIDE, spot.row as usize % SIDE);
        let mut levels = [f32::NAN; 8];
        if (1..SIDE - 1).contains(&col) && (1..SIDE - 1).contains(&row) {
            // Cells of the square beyond the frame hold `NaN`.
            let place = self.hold(spot)?;
            let square = &self.held[place].levels[(row - 1) * SIDE + col - 1..][..2 * SIDE + 3];
            for (level, (dc, dr)) in levels.iter_mut().zip(NEIGHBOURS) {
                *level = square[((dr + 1) as usize) * SIDE + (dc + 1) as usize];
            }
        } else {
            for (position, level) in levels.iter_mut().enumerate() {
                *level = self.level(spot.neighbour(position))?;
            }
        }
        Ok(levels)
    }

    /// What this search knows of a cell whose square is held, and the least rise of a path to it.
    pub(super) fn known(&mut self, spot: Spot) -> (&mut u8, &mut f64) {
        let place = self.place[self.number(spot)];
        let square = &mut self.held[place as usize];
        if square.search != self.search {
            square.search = self.search;
            square.marks.fill(0);
            self.reached += 1;
        }
        let at = position(spot);
        (&mut square.marks[at], &mut square.rise_sums[at])
    }

    fn number(&self, spot: Spot) -> usize {
        spot.row as usize / SIDE * self.across + spot.col as usize / SIDE
    }

    fn hold(&mut self, spot: Spot) -> Result<usize, S::Error> {
        let number = self.number(spot);
        let place = self.place[number];
        if place == ABSENT { self.fetch(number) } else { Ok(place as usize) }
    }

    fn fetch(&mut self, number: usize) -> Result<usize, S::Error> {
        let (col, row) = (number % self.across * SIDE, number / self.across * SIDE);
        let window =
            Window { col, row, cols: SIDE.min(self.frame.cols() - col), rows: SIDE.min(self.frame.rows() - row) };
        let mut square = Square { number, ..Square::new() };
        self.source.read(window, &mut square.levels, SIDE)?;
        let place = self.held.len();
        self.place[number] = place as u32;
        self.held.push(square);
        Ok(place)
    }
}

fn position(spot: Spot) -> usize {
    spot.row as usize % SIDE * SIDE + spot.col as usize % SIDE
}
