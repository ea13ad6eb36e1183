//! What a run of the command needs: memory, and space for working files.

use std::fs;

use fallwright_geodata::Problem;
use fallwright_units::Frame;

use super::Run;
use crate::failure::{Failure, cache_bytes};

/// Bytes a cell with everything in memory (measured on rough ground with flats).
const IN_MEMORY_PER_CELL: u64 = 34;
/// Bytes a cell of the edges of tiles and of the graph of basins, which stay in memory (twice what was measured on rough ground).
const ON_FILE_PER_CELL: f64 = 0.9;
/// Bytes of one thread's buffers for a tile.
const PER_THREAD: u64 = 40 << 20;
/// Bytes of the program and its libraries at rest.
const PROGRAM: u64 = 80 << 20;
/// Bytes of the rows that are read at once: two million cells as stored, their mask, and twice their heights.
const ROWS: u64 = (8 + 1 + 4 + 4) << 21;
/// Bytes a cell of working files and results together, at most at any time.
const DISK_PER_CELL: u64 = 4 + 4 + 1 + 8 + 14;

/// Largest raster, in cells, whose claim is followed whatever the size of its file: blocks without data need not be stored (our
/// choice: 33 GB of disk, which must be free, and minutes of work).
const TAKEN_AT_ITS_WORD: usize = 1 << 30;
/// A larger one holds at most so many times its own bytes (our choice; DEFLATE reaches 1032, RFC 1951).
const MOST_COMPRESSED: u64 = 2000;

/// Bytes of memory that a run needs with everything in memory.
pub(super) fn in_memory(frame: &Frame) -> u64 {
    PROGRAM.saturating_add((frame.len() as u64).saturating_mul(IN_MEMORY_PER_CELL))
}

/// Bytes of memory that a run needs over working files.
fn on_file(run: &Run) -> u64 {
    let frame = run.description.frame;
    let tiles = rayon::current_num_threads() as u64 * PER_THREAD;
    // Reading as a whole takes the cells and one block of the file; over working files the block alone.
    let block = run.description.bytes.saturating_sub((frame.len() as u64).saturating_mul(4));
    PROGRAM + cache_bytes(run.settings) + tiles + ROWS + 3 * block + (frame.len() as f64 * ON_FILE_PER_CELL) as u64
}

/// Bytes of disk that working files and results take, at most.
pub(super) fn disk(frame: &Frame) -> u64 {
    (frame.len() as u64).saturating_mul(DISK_PER_CELL)
}

/// # Errors
/// A run that cannot work over files: with cuts or the spread picture, with too little memory, or on a file that cannot
/// hold the cells that it claims.
pub(super) fn check_on_file(run: &Run) -> Result<(), Failure> {
    let frame = run.description.frame;
    let has = run.settings.max_memory_bytes;
    let refused = |expected: String, hint: &str| {
        Err(Failure::Refused(vec![Problem {
            file: run.dem.display().to_string(),
            layer: None,
            feature: None,
            found: format!("{} x {} cells, and {} of memory allowed", frame.cols(), frame.rows(), mebibytes(has)),
            expected,
            hint: hint.to_owned(),
        }]))
    };
    let holds = fs::metadata(run.dem).map_or(u64::MAX, |data| data.len().saturating_mul(MOST_COMPRESSED));
    if frame.len() > TAKEN_AT_ITS_WORD && holds / 4 < frame.len() as u64 {
        return refused(
            "a file large enough to hold its cells".to_owned(),
            "check that the file is what it claims to be; where it is, and most of it has no data, cut it to where there is some",
        );
    }
    let whole = format!("at least {}", mebibytes(in_memory(&frame)));
    if run.options.spread || (run.options.longest_cut_m > 0.0 && run.options.deepest_cut_m > 0.0) {
        let hint = "cuts and the spread picture need the whole raster in memory: allow more with `--max-memory`, leave \
                    them out (`--longest-cut 0` only fills), or cut the raster to the area of interest";
        return refused(whole, hint);
    }
    let needed = on_file(run);
    if needed > has {
        let hint =
            "allow more memory with `--max-memory`, use fewer `--threads`, or cut the raster to the area of interest";
        return refused(format!("at least {}", mebibytes(needed)), hint);
    }
    Ok(())
}

fn mebibytes(bytes: u64) -> String {
    format!("{} MiB", bytes.div_ceil(1 << 20))
}
