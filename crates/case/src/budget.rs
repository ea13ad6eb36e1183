//! Memory and time: what a run may use, and what a case of some size takes.

/// Memory that a run may use.
#[derive(Clone, Copy, Debug)]
pub struct Budget {
    pub memory_bytes: u64,
    /// Says how many bytes of it are in use, by whatever the caller counts. A run whose need depends on the ground ends once
    /// that is more than it may use. Without it such a run is judged by what is reckoned alone.
    pub in_use: Option<fn() -> u64>,
}

const LEAST_CACHE: u64 = 16 << 20;
const MOST_CACHE: u64 = 256 << 20;

impl Budget {
    /// So many bytes, and nobody to say how many are in use.
    pub const fn of(memory_bytes: u64) -> Self {
        Self { memory_bytes, in_use: None }
    }

    /// The part of it that GDAL may keep of files: a sixteenth, 16 MiB to 256 MiB (our choice).
    pub fn cache_bytes(&self) -> u64 {
        (self.memory_bytes / 16).clamp(LEAST_CACHE, MOST_CACHE)
    }

    /// The smallest budget that leaves so many bytes besides GDAL's part.
    pub fn least_for(bytes: u64) -> Self {
        Self::of(bytes.saturating_add((bytes / 15).clamp(LEAST_CACHE, MOST_CACHE)))
    }
}

/// Peak memory of a run with everything in memory, bytes a cell: 30 were measured on invented cases of 64 and 400 million cells
/// (one process, two threads), besides what follows.
const BYTES_PER_CELL: u64 = 34;
/// Bytes of the program, its libraries, layers of an ordinary size, blocks of files, and what is worked out at once without changes.
const PROGRAM: u64 = 240 << 20;
/// The same for each time that a path may cross a land: 110 were measured with 4,900 and 20,000 parcels; there may be more lands on a path.
const BYTES_PER_CROSSING: f64 = 300.0;
/// Most cells of a case: the counts of cells that drain through each take 32 bits.
pub(crate) const MOST_CELLS: usize = u32::MAX as usize;

/// How often the paths of all shares may cross a lot line: each as many as the side of the area has parcels.
fn crossings(parcels: usize) -> f64 {
    parcels as f64 * (parcels as f64).sqrt()
}

/// Bytes that a run takes.
pub(crate) fn memory_needed(cells: usize, parcels: usize) -> u64 {
    let cells = (cells as u64).saturating_mul(BYTES_PER_CELL);
    cells.saturating_add(PROGRAM).saturating_add((crossings(parcels) * BYTES_PER_CROSSING) as u64)
}

/// The changes of the terrain that are left out one by one, to find the findings that depend on them, take at most the work on
/// this many cells (our choice).
const MOST_CELLS_OF_CHANGES: f64 = 250e6;
/// A lot line that a path may cross takes about as much work there as this many cells: 2 µs against 120 ns, see below.
const CELLS_PER_CROSSING: f64 = 17.0;
/// The same for a cell of a mapped channel: 2.4 µs, estimated from a profile on a busy machine with 2.25 million cells and
/// 5,000 mapped waterways of about 50 cells each. A whole run there took more, some 4 µs.
const CELLS_PER_CHANNEL_CELL: f64 = 20.0;

/// What the work on a case depends on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CaseSize {
    pub cells: usize,
    pub parcels: usize,
    /// Cells of mapped channels.
    pub channel_cells: usize,
}

impl CaseSize {
    /// How many changes of the terrain are left out at most.
    pub fn most_changes(&self) -> usize {
        (MOST_CELLS_OF_CHANGES / self.cells_of_a_change()).max(1.0) as usize
    }

    /// The work of judging without one change, as that on so many cells.
    fn cells_of_a_change(&self) -> f64 {
        let channels = self.channel_cells as f64;
        self.cells as f64 + CELLS_PER_CROSSING * crossings(self.parcels) + CELLS_PER_CHANNEL_CELL * channels
    }
}

/// Processor time of the main job, without the findings that depend on a cut or fill: a part for each cell and one for
/// each time that a path may cross a lot line. It takes about as long by the clock: most steps besides conditioning keep one
/// core busy. Measured on invented cases of 16, 64 and 400 million cells with 4,900, 20,000 and 20,000 parcels, on a busy
/// machine of two cores: 17, 108 and 364 s.
const SECONDS_PER_CELL: f64 = 800e-9;
const SECONDS_PER_CROSSING: f64 = 20e-6;
/// Processor time of distinguishing the changes that can decide a finding: 2.6, 3.3 and 4.5 ms for each listed one there.
const SECONDS_PER_LISTED_CHANGE: f64 = 4.5e-3;
/// The same of judging without one of them, for each cell: 2.4, 13.7 and 54 s in all there, with 2 µs for each crossing.
const SECONDS_PER_CELL_AND_CHANGE: f64 = 120e-9;
/// Bytes of the rasters written for each cell (3.1 to 3.5 there), of the lines of paths for each parcel and cell along a side of
/// the raster (43, 42 and 21) and of all records of crossings for each of them (1,010, 1,130 and 730).
const RASTER_BYTES_PER_CELL: f64 = 3.5;
const LINE_BYTES: f64 = 43.0;
const BYTES_WRITTEN_PER_CROSSING: f64 = 1100.0;

/// What the main job on a case takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    pub seconds: f64,
    /// Of finding which findings depend on a change, at most.
    pub more_seconds: f64,
    pub mebibytes: u64,
    /// Of the results, at most.
    pub disk_mebibytes: u64,
    pub changes_listed: usize,
    /// At most.
    pub changes_left_out: usize,
}

impl Estimate {
    pub fn of(size: CaseSize, changes_listed: usize) -> Self {
        let (cells, crossings) = (size.cells as f64, crossings(size.parcels));
        let changes_left_out = changes_listed.min(size.most_changes());
        let once_more = size.cells_of_a_change() * SECONDS_PER_CELL_AND_CHANGE;
        let lines = size.parcels as f64 * cells.sqrt() * LINE_BYTES;
        let disk = cells * RASTER_BYTES_PER_CELL + lines + crossings * BYTES_WRITTEN_PER_CROSSING;
        let more_seconds = changes_listed as f64 * SECONDS_PER_LISTED_CHANGE + changes_left_out as f64 * once_more;
        Self {
            seconds: (cells * SECONDS_PER_CELL + crossings * SECONDS_PER_CROSSING).ceil(),
            more_seconds: more_seconds.ceil(),
            mebibytes: memory_needed(size.cells, size.parcels).div_ceil(1 << 20),
            disk_mebibytes: (disk as u64).div_ceil(1 << 20),
            changes_listed,
            changes_left_out,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_left_out_within_the_bound_on_work_and_at_least_one() {
        let check = |cells, parcels, channel_cells, expected| {
            assert_eq!(CaseSize { cells, parcels, channel_cells }.most_changes(), expected);
        };
        check(1_000_000, 0, 0, 250);
        check(1_000_000, 10_000, 0, 13);
        check(1_000_000, 0, 200_000, 50);
        check(900_000, 100_000, 1_000, 1);
        check(400_000_000, 20_000, 0, 1);
    }

    #[test]
    fn the_least_budget_leaves_what_is_needed_besides_the_cache() {
        let left = |memory_bytes| memory_bytes - Budget::of(memory_bytes).cache_bytes();
        for bytes in [0, 1 << 20, 240 << 20, 241 << 20, 1 << 30, 3840 << 20, 3841 << 20, 1 << 40] {
            let least = Budget::least_for(bytes).memory_bytes;
            assert!(left(least) >= bytes && (least == LEAST_CACHE || left(least - 2) <= bytes), "{bytes}: {least}");
        }
    }
}
