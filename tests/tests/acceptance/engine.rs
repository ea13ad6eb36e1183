//! The terrain engine gives the textbook's answers to the last bit: any number of threads, any size of tiles, in memory or
//! in working files.

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::fmt::Debug;

use fallwright_geodata::{OutputError, OutputFolder, ScratchRaster, ScratchValue};
use fallwright_terrain::tiled::{self, FillError, FlowConstraints, Tiling};
use fallwright_terrain::{Link, Links, direction, textbook};
use fallwright_units::{Cell, Frame, Raster, SharedRaster, TileSink, TileSource, Window};
use rayon::ThreadPoolBuilder;

/// No multiple of any tile's side.
const COLS: usize = 1100;
const ROWS: usize = 700;
const THREADS: [usize; 4] = [1, 2, 4, 8];
const SIDES: [usize; 3] = [64, 256, 1024];

struct Case {
    ground: Raster<f32>,
    links: Links,
    sinks: Vec<Cell>,
    channels: Vec<Vec<Cell>>,
    labels: Raster<u32>,
}

/// Everything that is found on one terrain.
#[derive(PartialEq)]
struct Answer {
    blocked: Vec<Cell>,
    /// As bits, so that missing data is equal to itself.
    surface: Vec<u32>,
    direction: Vec<u8>,
    area: Vec<u64>,
    labels: Vec<u32>,
}

impl Answer {
    fn assert_equals(&self, expected: &Self, what: &str) {
        assert!(self.blocked == expected.blocked, "{what}: blocked structures differ");
        assert!(self.surface == expected.surface, "{what}: the surface differs");
        assert!(self.direction == expected.direction, "{what}: directions differ");
        assert!(self.area == expected.area, "{what}: counts differ");
        assert!(self.labels == expected.labels, "{what}: labels differ");
    }
}

/// A number that looks like chance, from a place and a layer.
fn chance(col: usize, row: usize, layer: usize) -> usize {
    let mixed =
        (col as u64 * 7919 + row as u64 * 104_729 + layer as u64 * 15_485_863).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    ((mixed ^ mixed >> 29).wrapping_mul(0xBF58_476D_1CE4_E5B9) >> 40) as usize
}

/// Blocks of level ground that begin and end in any tile, with pits, bumps and single cells without data.
fn level_ground(col: usize, row: usize) -> f32 {
    match chance(col, row, 1) % 2003 {
        0 => f32::NAN,
        1..4 => 1.0,
        4..7 => 9.0,
        _ => (chance(col / 37, row / 29, 2) % 7) as f32,
    }
}

/// Ground without two cells alike, but for chance.
fn rough_ground(col: usize, row: usize) -> f32 {
    if chance(col, row, 3).is_multiple_of(997) {
        return f32::NAN;
    }
    (chance(col / 101, row / 97, 4) % 5) as f32 + chance(col, row, 5) as f32 / (1 << 22) as f32
}

/// Adds to a ground a hole without data, a lake that is a whole tile and one larger than any tile, kept depressions,
/// structures, some of them under backwater, channels and cells to label.
fn case(height: impl Fn(usize, usize) -> f32) -> Case {
    let frame = Frame::new(COLS, ROWS, (0.0, 0.0), (2.0, 2.0)).unwrap();
    let values = (0..frame.len()).map(|index| match (index % COLS, index / COLS) {
        (60..200, 500..620) => f32::NAN,
        (256..512, 256..512) => 2.0,
        (540..1098, 150..680) => 3.0,
        (col, row) => height(col, row),
    });
    let ground = Raster { frame, values: values.collect() };
    let some = |count: usize, layer: usize| (0..count).map(move |n| Cell(chance(n, 1, layer) % (COLS * ROWS)));
    let has_data = |cell: &Cell| !ground[*cell].is_nan();
    let sinks: Vec<Cell> = some(12, 6).filter(has_data).collect();
    let mut taken: BTreeSet<Cell> = sinks.iter().copied().collect();
    let ends = some(60, 7).zip(some(60, 8)).filter(|(a, b)| a != b && has_data(a) && has_data(b));
    let links: Vec<Link> =
        ends.filter(|(inlet, _)| taken.insert(*inlet)).map(|(inlet, outlet)| Link { inlet, outlet }).collect();
    let line = |row: usize| (100..1000).map(|col| frame.cell(col, row)).collect();
    let slope = (20..680).map(|row| frame.cell(row + 30, row)).collect();
    let mut labels = Raster::filled(frame, 0);
    for (number, cell) in (1..).zip(some(300, 9)) {
        labels[cell] = number;
    }
    Case { ground, links: Links::new(&links).unwrap(), sinks, channels: vec![line(0), line(384), slope], labels }
}

fn bits(surface: &[f32]) -> Vec<u32> {
    surface.iter().map(|z| if z.is_nan() { u32::MAX } else { z.to_bits() }).collect()
}

fn textbook_answer(case: &Case) -> Answer {
    let mut links = case.links.clone();
    let mut blocked = Vec::new();
    let surface = loop {
        let filled = textbook::fill(&case.ground, &links, &case.sinks);
        if filled.blocked.is_empty() {
            break filled.surface;
        }
        links = links.without(&filled.blocked);
        blocked.extend(filled.blocked);
    };
    let flow = textbook::flow_along_channels(&surface, links, &case.sinks, &case.channels);
    let area = textbook::accumulation(&flow).values;
    let labels = textbook::label_upstream(&flow, case.labels.clone()).values;
    Answer { blocked, surface: bits(&surface.values), direction: flow.direction.values, area, labels }
}

/// Where rasters lie while the engine works.
trait Store {
    type Error: Debug + Send;
    type Held<T: ScratchValue>: TileSink<T, Error = Self::Error>;

    fn hold<T: ScratchValue>(&self, name: &str, raster: Raster<T>) -> Self::Held<T>;
}

struct Memory;

impl Store for Memory {
    type Error = Infallible;
    type Held<T: ScratchValue> = SharedRaster<T>;

    fn hold<T: ScratchValue>(&self, _: &str, raster: Raster<T>) -> SharedRaster<T> {
        SharedRaster::new(raster)
    }
}

impl Store for OutputFolder {
    type Error = OutputError;
    type Held<T: ScratchValue> = ScratchRaster<T>;

    fn hold<T: ScratchValue>(&self, name: &str, raster: Raster<T>) -> ScratchRaster<T> {
        let held = self.scratch().raster(name, raster.frame).unwrap();
        held.write(whole(&raster.frame), &raster.values, COLS).unwrap();
        held
    }
}

fn whole(frame: &Frame) -> Window {
    Window { col: 0, row: 0, cols: frame.cols(), rows: frame.rows() }
}

fn values<T: Copy + Default, E: Debug>(held: &impl TileSource<T, Error = E>) -> Vec<T> {
    let mut values = vec![T::default(); held.frame().len()];
    held.read(whole(&held.frame()), &mut values, COLS).unwrap();
    values
}

fn engine_answer<S: Store>(case: &Case, side: usize, store: &S) -> Answer {
    let frame = case.ground.frame;
    let tiling = Tiling { frame, side };
    let mut links = case.links.clone();
    let mut blocked = Vec::new();
    let ground = store.hold("ground", case.ground.clone());
    let surface = store.hold("surface", Raster::filled(frame, 0.0));
    let node = store.hold("node", Raster::filled(frame, 0));
    loop {
        match tiled::fill(&tiling, &ground, &surface, &node, &links, &case.sinks) {
            Ok(()) => break,
            Err(FillError::BlockedInlets(more)) => {
                links = links.without(&more);
                blocked.extend(more);
            }
            Err(FillError::Tile(error)) => panic!("{error:?}"),
        }
    }
    let code = store.hold("direction", Raster::filled(frame, direction::NODATA));
    let constraints = FlowConstraints { links: &links, sinks: &case.sinks, channels: &case.channels };
    tiled::directions(&tiling, &surface, &code, constraints).unwrap();
    let (area, narrow) =
        (store.hold("area", Raster::filled(frame, 0_u64)), store.hold("narrow", Raster::filled(frame, 0_u32)));
    tiled::accumulate(&tiling, &code, &area, &links).unwrap();
    tiled::accumulate(&tiling, &code, &narrow, &links).unwrap();
    assert!(values(&area).into_iter().eq(values(&narrow).into_iter().map(u64::from)), "32 bits count otherwise");
    let labels = store.hold("labels", case.labels.clone());
    tiled::label(&tiling, &code, &labels, &links).unwrap();
    let surface = bits(&values(&surface));
    Answer { blocked, surface, direction: values(&code), area: values(&area), labels: values(&labels) }
}

/// What a terrain is meant to have is there, so that equal answers say something.
fn assert_it_is_hard(case: &Case, expected: &Answer) {
    let links = case.links.without(&expected.blocked);
    let backwater = |link: &Link| expected.surface[link.inlet.0] == expected.surface[link.outlet.0];
    let found = (links.iter().count(), links.iter().filter(backwater).count(), case.sinks.len());
    assert!(
        found.0 > 30 && found.1 > 2 && found.2 > 8,
        "structures, those under backwater, kept depressions: {found:?}"
    );
    let raised = expected.surface.iter().zip(bits(&case.ground.values)).filter(|(z, ground)| *z != ground).count();
    assert!(raised > 10_000, "{raised} cells raised");
}

fn check(case: &Case) {
    let expected = textbook_answer(case);
    assert_it_is_hard(case, &expected);
    let home = tempfile::tempdir().unwrap();
    for threads in THREADS {
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        for side in SIDES {
            let what = format!("{threads} threads, tiles of {side}");
            let in_memory = pool.install(|| engine_answer(case, side, &Memory));
            in_memory.assert_equals(&expected, &format!("{what}, in memory"));
            let folder = OutputFolder::create(&home.path().join("out"), false).unwrap();
            let on_file = pool.install(|| engine_answer(case, side, &folder));
            on_file.assert_equals(&expected, &format!("{what}, in working files"));
        }
    }
}

#[test]
fn level_ground_gives_the_same_however_it_is_cut() {
    check(&case(level_ground));
}

#[test]
fn rough_ground_gives_the_same_however_it_is_cut() {
    check(&case(rough_ground));
}
