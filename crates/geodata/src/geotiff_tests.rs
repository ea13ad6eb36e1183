use std::path::Path;

use fallwright_units::{TileSink, Window};
use rayon::ThreadPoolBuilder;

use super::*;
use crate::library::limit_cache;
use crate::output::OutputFolder;
use crate::testing::folder;

fn frame(cols: usize, rows: usize) -> Frame {
    Frame::new(cols, rows, (500_000.0, 4_800_000.0), (2.0, 2.0)).unwrap()
}

/// Whole numbers without order, some of them the nodata value 0.
fn counts(frame: &Frame) -> Vec<u32> {
    (0..frame.len() as u32).map(|cell| cell.wrapping_mul(2_654_435_761) >> (8 + cell % 24)).collect()
}

const ZERO: RasterMeta = RasterMeta { description: "area draining", unit: None, nodata: Some(0.0), categories: None };

/// Writes the same cells as heights, codes, counts and large counts, from memory or from working files; name and SHA-256 of each.
fn digests(folder: &Path, frame: &Frame, counts: &[u32], from_memory: bool) -> Vec<(String, String)> {
    let crs = Crs::from_text("EPSG:26917").unwrap();
    let mut output = OutputFolder::create(folder, false).unwrap();
    let heights: Vec<f32> =
        counts.iter().map(|&count| if count == 0 { f32::NAN } else { count as f32 / 7.0 }).collect();
    let codes: Vec<u8> = counts.iter().map(|&count| count as u8).collect();
    let large: Vec<f64> = counts.iter().map(|&count| f64::from(count)).collect();
    if from_memory {
        let mut write = |name: &str, values| output.write_raster(name, frame, &crs, values, &ZERO).unwrap();
        write("heights.tif", RasterValues::F32(&heights));
        write("codes.tif", RasterValues::U8(&codes));
        write("counts.tif", RasterValues::U32(counts));
        write("large.tif", RasterValues::F64(&large));
    } else {
        let whole = Window { col: 0, row: 0, cols: frame.cols(), rows: frame.rows() };
        let large: Vec<u64> = counts.iter().map(|&count| u64::from(count)).collect();
        let files = (
            output.scratch().raster("heights", *frame).unwrap(),
            output.scratch().raster("codes", *frame).unwrap(),
            output.scratch().raster("counts", *frame).unwrap(),
            output.scratch().raster("large", *frame).unwrap(),
        );
        files.0.write(whole, &heights, frame.cols()).unwrap();
        files.1.write(whole, &codes, frame.cols()).unwrap();
        files.2.write(whole, counts, frame.cols()).unwrap();
        files.3.write(whole, &large, frame.cols()).unwrap();
        let mut write = |name: &str, values| output.write_tiles(name, &crs, &values, &ZERO).unwrap();
        write("heights.tif", TileValues::F32(&files.0));
        write("codes.tif", TileValues::U8(&files.1));
        write("counts.tif", TileValues::U32(&files.2));
        write("large.tif", TileValues::U64(&files.3));
    }
    output.digests()
}

#[test]
fn the_bytes_are_the_same_with_any_cache_and_any_number_of_threads() {
    let folder = folder();
    let frame = frame(2100, 1100);
    let counts = counts(&frame);
    let mut first = None;
    for (run, (mebibytes, threads, from_memory)) in [
        (500, 1, true),
        (500, 2, false),
        (64, 8, true),
        (16, 4, false),
        (5, 1, false),
        (5, 2, true),
        (5, 8, false),
        (1, 4, true),
    ]
    .into_iter()
    .enumerate()
    {
        limit_cache(mebibytes << 20);
        let pool = ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let digests = pool.install(|| digests(&folder.path().join(run.to_string()), &frame, &counts, from_memory));
        let first = first.get_or_insert_with(|| digests.clone());
        assert_eq!(*first, digests, "{mebibytes} MiB, {threads} threads, from memory: {from_memory}");
    }
}

/// The sides of the overviews of a raster, and each cell of each of them against the cell of the raster at its centre.
fn check_overviews(cols: usize, rows: usize, sizes: &[(usize, usize)]) {
    let folder = folder();
    let path = folder.path().join("counts.tif");
    let (frame, crs) = (frame(cols, rows), Crs::from_text("EPSG:26917").unwrap());
    let counts = counts(&frame);
    write(&path, &frame, &crs, RasterValues::U32(&counts), &ZERO).unwrap();
    let dataset = Dataset::open(path).unwrap();
    let band = dataset.rasterband(1).unwrap();
    assert_eq!(band.read_band_as::<u32>().unwrap().data(), counts, "{cols} x {rows}");
    let overviews: Vec<_> = (0..band.overview_count().unwrap() as usize).map(|at| band.overview(at).unwrap()).collect();
    assert_eq!(overviews.iter().map(RasterBand::size).collect::<Vec<_>>(), sizes, "{cols} x {rows}");
    for (level, overview) in overviews.iter().enumerate() {
        let factor = 2 << level;
        assert_eq!((overview.block_size(), overview.no_data_value()), ((256, 256), Some(0.0)));
        let width = overview.size().0;
        for (place, &count) in overview.read_band_as::<u32>().unwrap().data().iter().enumerate() {
            let col = (place % width * factor + factor / 2).min(cols - 1);
            let row = (place / width * factor + factor / 2).min(rows - 1);
            assert_eq!(count, counts[row * cols + col], "{cols} x {rows}, by {factor}, {place}");
        }
    }
}

#[test]
fn overviews_halve_down_to_one_block_and_hold_the_nearest_cells() {
    check_overviews(512, 512, &[]);
    check_overviews(513, 100, &[(257, 50), (129, 25)]);
    check_overviews(1000, 1300, &[(500, 650), (250, 325), (125, 163)]);
    check_overviews(1025, 515, &[(513, 258), (257, 129), (129, 65)]);
    check_overviews(3000, 1, &[(1500, 1), (750, 1), (375, 1), (188, 1)]);
    check_overviews(3, 3000, &[(2, 1500), (1, 750), (1, 375), (1, 188)]);
}
