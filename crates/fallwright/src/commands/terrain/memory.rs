//! What a run of the command needs: memory, and space for working files.

use std::fs;

use fallwright_geodata::{Problem, release_free_memory};
use fallwright_units::Frame;

use super::Run;
use crate::Error;
use fallwright_case::Budget;

/// Bytes a cell with everything in memory, on the roughest ground (white noise): a surface, directions and counts, edges and
/// flats; or two surfaces and cuts. Most ground takes 12.
const IN_MEMORY_PER_CELL: u64 = 18;
/// The same with the spread picture.
const SPREAD_PER_CELL: u64 = 40;
/// Bytes a cell of the edges of tiles, of flats across tiles and of the graph of basins, which stay in memory: on most ground
/// (the benches').
const ON_FILE_PER_CELL: f64 = 0.27;
/// The same on the roughest ground (a pit in every ninth cell), and with what is kept of each cut there.
const ON_FILE_PER_ROUGH_CELL: f64 = 0.8;
const ON_FILE_PER_ROUGH_CELL_CUT: f64 = 5.0;
/// Bytes of a pass between basins or a cell along the edge of a tile, with what their join takes.
pub(super) const PER_PASS: u64 = 24;
/// Bytes of the one search for a cut that takes much memory, and of each thread's others.
const WIDE_SEARCH: u64 = 160 << 20;
const SEARCH_PER_THREAD: u64 = 16 << 20;
/// Bytes of one thread's buffers for a tile.
const PER_THREAD: u64 = 20 << 20;
/// Bytes of the program and its libraries at rest.
const PROGRAM: u64 = 48 << 20;
/// Bytes of the rows that are read at once: two million cells as stored, their mask, and twice their heights.
const ROWS: u64 = (8 + 1 + 4 + 4) << 21;
/// Bytes a cell of working files (a surface, directions, counts, and 1 % for edges kept twice) and results together, at most at
/// any time.
const DISK_PER_CELL: u64 = 4 + 1 + 8 + 1 + 14;

/// A raster of no more cells is taken at its word, whatever the size of its file: blocks without data need not be stored (our
/// choice: 33 GB of disk, which must be free, and minutes of work).
const TAKEN_AT_ITS_WORD: usize = 1 << 30;
/// A compressed raster holds at most so many times its own bytes (our choice; DEFLATE reaches 1032, RFC 1951).
const MOST_COMPRESSED: u64 = 2000;

/// Bytes of memory that a run needs with everything in memory.
pub(super) fn in_memory(run: &Run) -> u64 {
    let per_cell = if run.options.spread { SPREAD_PER_CELL } else { IN_MEMORY_PER_CELL };
    with_files(at_rest(run).saturating_add((run.description.frame.len() as u64).saturating_mul(per_cell)))
}

/// Bytes of memory that a run needs over working files.
fn on_file(run: &Run) -> u64 {
    let frame = run.description.frame;
    // Reading as a whole takes the cells and one block of the file; over working files the block alone.
    let block = run.description.bytes.saturating_sub((frame.len() as u64).saturating_mul(4));
    let edges = (frame.len() as f64 * ON_FILE_PER_CELL) as u64;
    // All is read before anything is known of the edges.
    with_files(at_rest(run) + edges.max(ROWS + 3 * block))
}

/// Bytes besides those that grow with the raster.
fn at_rest(run: &Run) -> u64 {
    let threads = rayon::current_num_threads() as u64;
    let searches = run.options.limits().map_or(0, |_| WIDE_SEARCH + threads * SEARCH_PER_THREAD);
    PROGRAM + threads * PER_THREAD + searches
}

/// Bytes of disk that working files and results take, at most.
pub(super) fn disk(frame: &Frame) -> u64 {
    (frame.len() as u64).saturating_mul(DISK_PER_CELL)
}

/// # Errors
/// A run that cannot work over files: with the spread picture, with too little memory, or on a file that cannot
/// hold the cells that it claims.
pub(super) fn check_on_file(run: &Run) -> Result<(), Error> {
    let frame = run.description.frame;
    let holds = fs::metadata(run.dem).map_or(u64::MAX, |data| data.len().saturating_mul(MOST_COMPRESSED));
    if frame.len() > TAKEN_AT_ITS_WORD && holds / 4 < frame.len() as u64 {
        let expected = "a file large enough to hold its cells".to_owned();
        let hint = "check that the file is what it claims to be; where it is, and most of it has no data, cut it to where \
                    there is some";
        return Err(refused(run, expected, hint));
    }
    if run.options.spread {
        let hint = "the spread picture needs the whole raster in memory: allow more with `--max-memory`, leave it out, or \
                    cut the raster to the area of interest";
        return Err(refused(run, at_least(in_memory(run)), hint));
    }
    check_needed(run, on_file(run)).map_err(|problem| Error::Refused(vec![*problem]))
}

/// Checks the memory again, once the ground is known to take so many bytes of edges and passes.
///
/// # Errors
/// Too little memory.
pub(super) fn check_room(run: &Run, bytes: u64) -> Result<(), Box<Problem>> {
    check_needed(run, with_files(at_rest(run) + bytes))
}

/// The memory that a run may use.
pub(super) struct Cap {
    budget: Budget,
    exceeded: Problem,
}

impl Cap {
    pub(super) fn of(run: &Run) -> Self {
        let per_cell = run.options.limits().map_or(ON_FILE_PER_ROUGH_CELL, |_| ON_FILE_PER_ROUGH_CELL_CUT);
        let edges = (run.description.frame.len() as f64 * per_cell) as u64;
        let enough = with_files(at_rest(run) + edges.max(ROWS));
        Self { budget: *run.budget, exceeded: problem(run, at_least(enough), MORE_MEMORY) }
    }

    /// # Errors
    /// More memory in use than may be, with what is enough for any ground. Where nobody says what is in use, it is taken to be
    /// little enough.
    pub(super) fn check(&self) -> Result<(), Box<Problem>> {
        let is_exceeded = || self.budget.in_use.is_some_and(|in_use| in_use() > self.budget.memory_bytes);
        if is_exceeded() {
            release_free_memory();
            if is_exceeded() {
                return Err(Box::new(self.exceeded.clone()));
            }
        }
        Ok(())
    }
}

const MORE_MEMORY: &str =
    "allow more memory with `--max-memory`, use fewer `--threads`, or cut the raster to the area of interest";

fn check_needed(run: &Run, needed: u64) -> Result<(), Box<Problem>> {
    let problem = || Box::new(problem(run, at_least(needed), MORE_MEMORY));
    if needed > run.budget.memory_bytes { Err(problem()) } else { Ok(()) }
}

fn refused(run: &Run, expected: String, hint: &str) -> Error {
    Error::Refused(vec![problem(run, expected, hint)])
}

fn problem(run: &Run, expected: String, hint: &str) -> Problem {
    let (frame, has) = (run.description.frame, mebibytes(run.budget.memory_bytes));
    let found = format!("{} x {} cells, and {has} of memory allowed", frame.cols(), frame.rows());
    Problem::in_file(run.dem, found, expected, hint)
}

fn at_least(bytes: u64) -> String {
    format!("at least {}", mebibytes(bytes))
}

fn mebibytes(bytes: u64) -> String {
    format!("{} MiB", bytes.div_ceil(1 << 20))
}

/// So many bytes with the part of the memory that GDAL keeps of files.
fn with_files(bytes: u64) -> u64 {
    Budget::least_for(bytes).memory_bytes
}
