use std::path::Path;

use gdal::raster::ColorInterpretation;

use super::*;
use crate::testing::{Sheet, folder};

const ENOUGH: u64 = 1 << 30;

fn request(files: &[PathBuf]) -> ElevationRequest<'_> {
    ElevationRequest { files, vertical_unit: None, crs: None, warp: None, max_bytes: ENOUGH }
}

fn read(files: &[PathBuf]) -> Result<Elevation, Vec<Problem>> {
    read_elevation(&request(files))
}

fn one_problem(request: &ElevationRequest) -> Problem {
    let mut problems = read_elevation(request).map(|elevation| elevation.ground.frame).unwrap_err();
    assert_eq!(describe_elevation(request).unwrap_err(), problems, "describing must say the same");
    assert_eq!(problems.len(), 1, "{problems:?}");
    problems.remove(0)
}

/// Heights with NaN as `None`.
fn heights(elevation: &Elevation) -> Vec<Option<f32>> {
    elevation.ground.values.iter().map(|height| Some(*height).filter(|height| !height.is_nan())).collect()
}

fn written<T: gdal::raster::GdalType + Copy>(folder: &Path, name: &str, sheet: &Sheet<T>) -> PathBuf {
    let path = folder.join(name);
    sheet.write(&path);
    path
}

#[test]
fn a_geotiff_comes_in_cell_for_cell() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet::default())];
    let elevation = read(&files).unwrap();
    assert_eq!(elevation.ground.values, [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    assert_eq!(elevation.ground.frame, Frame::new(3, 2, (500_000.0, 4_800_000.0), (10.0, 10.0)).unwrap());
    assert_eq!(elevation.crs.code(), Some("EPSG:26917"));
    assert_eq!(elevation.vertical_unit, VerticalUnit::Metre);
    let description = describe_elevation(&request(&files)).unwrap();
    assert_eq!((description.frame, description.crs), (elevation.ground.frame, elevation.crs));
    assert!(description.bytes >= 24);
}

#[test]
fn other_formats_come_in_alike() {
    let folder = folder();
    for (driver, name) in [
        ("AAIGrid", "dem.asc"),
        ("HFA", "dem.img"),
        ("ENVI", "dem.bin"),
        ("EHdr", "dem.flt"),
        ("GSAG", "dem.grd"),
        ("XYZ", "dem.xyz"),
        ("PCIDSK", "dem.pix"),
    ] {
        let files = [written(folder.path(), name, &Sheet { driver, ..Sheet::default() })];
        let request =
            ElevationRequest { vertical_unit: Some(VerticalUnit::Metre), crs: Some("EPSG:26917"), ..request(&files) };
        let elevation = read_elevation(&request).unwrap_or_else(|problems| panic!("{driver}: {problems:?}"));
        assert_eq!(elevation.ground.values, [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], "{driver}");
        let frame = elevation.ground.frame;
        assert_eq!((frame.cols(), frame.rows()), (3, 2), "{driver}");
        for (found, expected) in [
            (frame.west(), 500_000.0),
            (frame.north(), 4_800_000.0),
            (frame.cell_width(), 10.0),
            (frame.cell_height(), 10.0),
        ] {
            assert!((found - expected).abs() < 1e-6, "{driver}: {found} for {expected}");
        }
    }
}

#[test]
fn feet_become_metres() {
    let folder = folder();
    // Factors: Federal Register, 1 July 1959.
    let check = |unit: &'static str, given: Option<VerticalUnit>, metres: f64, found: VerticalUnit| {
        let sheet = Sheet { unit, values: vec![1000.0; 6], ..Sheet::default() };
        let files = [written(folder.path(), "dem.tif", &sheet)];
        let elevation = read_elevation(&ElevationRequest { vertical_unit: given, ..request(&files) }).unwrap();
        assert_eq!(elevation.ground.values[0], metres as f32, "{unit}");
        assert_eq!(elevation.vertical_unit, found);
    };
    check("ft", None, 304.8, VerticalUnit::InternationalFoot);
    check("US survey foot", None, 1_200_000.0 / 3937.0, VerticalUnit::UsSurveyFoot);
    check("", Some(VerticalUnit::InternationalFoot), 304.8, VerticalUnit::InternationalFoot);
    check("metre", Some(VerticalUnit::Metre), 1000.0, VerticalUnit::Metre);
}

#[test]
fn a_compound_system_says_the_unit_and_is_left_out_of_the_result() {
    let folder = folder();
    let sheet = Sheet { unit: "", crs: Some("EPSG:26917+6360"), values: vec![3937.0; 6], ..Sheet::default() };
    let elevation = read(&[written(folder.path(), "dem.tif", &sheet)]).unwrap();
    assert_eq!(elevation.ground.values[0], 1200.0);
    assert_eq!(elevation.crs.code(), Some("EPSG:26917"));
}

#[test]
fn a_vertical_unit_is_never_guessed() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet { unit: "", ..Sheet::default() })];
    let problem = one_problem(&request(&files));
    assert_eq!(problem.found, "no vertical unit");
    assert!(problem.hint.contains("vertical_unit") && problem.hint.contains("--vertical-unit"));

    let files = [written(folder.path(), "odd.tif", &Sheet { unit: "cubit", ..Sheet::default() })];
    assert_eq!(one_problem(&request(&files)).found, "the vertical unit \"cubit\"");

    let files = [written(folder.path(), "feet.tif", &Sheet { unit: "ft", ..Sheet::default() })];
    let problem = one_problem(&ElevationRequest { vertical_unit: Some(VerticalUnit::Metre), ..request(&files) });
    assert_eq!(
        (problem.found.as_str(), problem.expected.as_str()),
        ("heights in ft", "heights in m, as the case says")
    );

    let sheet = Sheet { unit: "m", crs: Some("EPSG:26917+6360"), ..Sheet::default() };
    let files = [written(folder.path(), "both.tif", &sheet)];
    assert!(one_problem(&request(&files)).found.contains("in m by the band and in us-ft by the reference system"));
}

#[test]
fn nodata_by_tag_and_by_nan() {
    let folder = folder();
    let values = vec![-9999.0, f32::NAN, 3.0, -9999.0, 5.0, 6.0];
    let sheet = Sheet { nodata: Some(-9999.0), values, ..Sheet::default() };
    let elevation = read(&[written(folder.path(), "dem.tif", &sheet)]).unwrap();
    assert_eq!(heights(&elevation), [None, None, Some(3.0), None, Some(5.0), Some(6.0)]);

    let sheet = Sheet { nodata: Some(-32_768.0), ..Sheet::of(3, vec![-32_768_i16, 0, 1, 2, 3, 4]) };
    let elevation = read(&[written(folder.path(), "whole.tif", &sheet)]).unwrap();
    assert_eq!(heights(&elevation), [None, Some(0.0), Some(1.0), Some(2.0), Some(3.0), Some(4.0)]);
}

#[test]
fn an_infinity_is_missing_data_only_where_the_tag_says_so() {
    let folder = folder();
    for infinity in [f32::INFINITY, f32::NEG_INFINITY] {
        let values = vec![1.0, 2.0, 3.0, 4.0, infinity, 6.0];
        let tagged = Sheet { nodata: Some(f64::from(infinity)), values: values.clone(), ..Sheet::default() };
        let elevation = read(&[written(folder.path(), "tagged.tif", &tagged)]).unwrap();
        assert_eq!(heights(&elevation)[4], None);
        let files = [written(folder.path(), "dem.tif", &Sheet { values, ..Sheet::default() })];
        let problems = read_elevation(&request(&files)).unwrap_err();
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].found, "an infinite height in column 2, row 2");
    }
}

#[test]
fn nodata_by_mask_band() {
    let folder = folder();
    let path = folder.path().join("dem.tif");
    Sheet::default().write_with(&path, |dataset| {
        let mut band = dataset.rasterband(1).unwrap();
        band.create_mask_band(true).unwrap();
        let mut mask = band.open_mask_band().unwrap();
        mask.write((0, 0), (3, 2), &mut gdal::raster::Buffer::new((3, 2), vec![0_u8, 255, 255, 255, 255, 0])).unwrap();
    });
    let elevation = read(&[path]).unwrap();
    assert_eq!(heights(&elevation), [None, Some(2.0), Some(3.0), Some(4.0), Some(5.0), None]);
}

#[test]
fn nodata_by_alpha_band() {
    let folder = folder();
    let path = folder.path().join("dem.tif");
    let sheet = Sheet { bands: 2, ..Sheet::of(3, vec![1_u8, 2, 3, 4, 5, 6]) };
    sheet.write_with(&path, |dataset| {
        let mut alpha = dataset.rasterband(2).unwrap();
        alpha.set_color_interpretation(ColorInterpretation::AlphaBand).unwrap();
        alpha
            .write((0, 0), (3, 2), &mut gdal::raster::Buffer::new((3, 2), vec![255_u8, 0, 255, 255, 255, 255]))
            .unwrap();
    });
    let elevation = read(&[path]).unwrap();
    assert_eq!(heights(&elevation), [Some(1.0), None, Some(3.0), Some(4.0), Some(5.0), Some(6.0)]);
}

#[test]
fn scale_and_offset_are_applied() {
    let folder = folder();
    let path = folder.path().join("dem.tif");
    Sheet::of(3, vec![0_i16, 10, 20, 30, 40, 50]).write_with(&path, |dataset| {
        let mut band = dataset.rasterband(1).unwrap();
        band.set_scale(0.5).unwrap();
        band.set_offset(100.0).unwrap();
    });
    assert_eq!(read(&[path]).unwrap().ground.values, [100.0, 105.0, 110.0, 115.0, 120.0, 125.0]);
}

#[test]
fn a_raster_without_a_height_is_refused() {
    let folder = folder();
    let sheet = Sheet { values: vec![f32::NAN; 6], ..Sheet::default() };
    let problems = read(&[written(folder.path(), "dem.tif", &sheet)]).unwrap_err();
    assert_eq!(problems[0].found, "no cell with a height");
}

#[test]
fn several_bands_are_refused() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet { bands: 3, ..Sheet::default() })];
    assert_eq!(one_problem(&request(&files)).found, "3 bands");
}

#[test]
fn a_rotated_a_flipped_and_an_unplaced_raster_are_refused() {
    let folder = folder();
    let check = |name: &str, transform: [f64; 6], found: &str| {
        let files = [written(folder.path(), name, &Sheet { transform, ..Sheet::default() })];
        assert!(one_problem(&request(&files)).found.contains(found), "{found}");
    };
    check("rotated.tif", [500_000.0, 10.0, 1.0, 4_800_000.0, 1.0, -10.0], "rotated");
    check("flipped.tif", [500_000.0, 10.0, 0.0, 4_800_000.0, 0.0, 10.0], "a cell of 10 by -10");
    let path = folder.path().join("unplaced.png");
    Sheet { driver: "PNG", ..Sheet::of(3, vec![1_u8, 2, 3, 4, 5, 6]) }.write(&path);
    std::fs::remove_file(folder.path().join("unplaced.png.aux.xml")).unwrap();
    assert_eq!(one_problem(&request(&[path])).found, "no position on the ground");
}

#[test]
fn a_geographic_system_is_refused_and_a_suitable_one_named() {
    let folder = folder();
    let transform = [-93.5, 0.001, 0.0, 41.5, 0.0, -0.001];
    let check = |name: &str, crs: &'static str, suitable: &str| {
        let files = [written(folder.path(), name, &Sheet { crs: Some(crs), transform, ..Sheet::default() })];
        let problem = one_problem(&request(&files));
        assert!(problem.found.contains("measured in degree"), "{problem}");
        assert!(problem.hint.contains(&format!("warp = {{ crs = \"{suitable}\", cell_m = ")), "{problem}");
    };
    check("nad83.tif", "EPSG:4269", "EPSG:26915");
    check("wgs84.tif", "EPSG:4326", "EPSG:32615");
}

#[test]
fn degrees_and_a_missing_vertical_unit_are_told_together() {
    let folder = folder();
    let transform = [-93.5, 0.001, 0.0, 41.5, 0.0, -0.001];
    let sheet = Sheet { unit: "", crs: Some("EPSG:4269"), transform, ..Sheet::default() };
    let problems = read(&[written(folder.path(), "dem.tif", &sheet)]).unwrap_err();
    assert_eq!(problems.len(), 2, "{problems:?}");
    assert_eq!(problems[0].found, "no vertical unit");
    assert!(problems[1].hint.contains("EPSG:26915"), "{}", problems[1]);
}

#[test]
fn a_projected_system_in_feet_is_refused() {
    let folder = folder();
    let sheet = Sheet {
        crs: Some("EPSG:2264"),
        transform: [1_400_000.0, 30.0, 0.0, 600_000.0, 0.0, -30.0],
        ..Sheet::default()
    };
    let files = [written(folder.path(), "dem.tif", &sheet)];
    let problem = one_problem(&request(&files));
    assert!(problem.found.contains("measured in US survey foot"), "{problem}");
    // 30 US survey feet are 9.144 m.
    assert!(problem.hint.contains("\"EPSG:26917\", cell_m = 9.1,"), "{problem}");
}

#[test]
fn the_case_names_the_system_that_the_file_lacks() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet { crs: None, ..Sheet::default() })];
    let problem = one_problem(&request(&files));
    assert_eq!(problem.found, "no reference system");
    assert!(problem.hint.contains("`crs`"));
    let named = ElevationRequest { crs: Some("EPSG:26917"), ..request(&files) };
    assert_eq!(read_elevation(&named).unwrap().crs.code(), Some("EPSG:26917"));
}

#[test]
fn the_case_and_the_file_must_agree_on_the_system() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet::default())];
    let problem = one_problem(&ElevationRequest { crs: Some("EPSG:26918"), ..request(&files) });
    assert!(problem.found.contains("EPSG:26917") && problem.expected.contains("EPSG:26918"), "{problem}");
    let problem = one_problem(&ElevationRequest { crs: Some("http://127.0.0.1:9/crs"), ..request(&files) });
    assert!(problem.found.contains("is not understood"), "{problem}");
    assert!(read_elevation(&ElevationRequest { crs: Some("EPSG:26917"), ..request(&files) }).is_ok());
}

#[test]
fn a_side_file_in_another_dialect_names_the_same_system() {
    let folder = folder();
    let files = [written(folder.path(), "dem.asc", &Sheet { driver: "AAIGrid", ..Sheet::default() })];
    let prj = std::fs::read_to_string(folder.path().join("dem.prj")).unwrap();
    assert!(prj.contains("NAD_1983_UTM_Zone_17N"), "{prj}");
    std::fs::remove_file(folder.path().join("dem.asc.aux.xml")).ok();
    let request =
        ElevationRequest { crs: Some("EPSG:26917"), vertical_unit: Some(VerticalUnit::Metre), ..request(&files) };
    assert_eq!(read_elevation(&request).unwrap().crs.code(), Some("EPSG:26917"));
}

#[test]
fn tiles_become_one_raster() {
    let folder = folder();
    let files = [
        written(folder.path(), "east.tif", &Sheet::default().moved(3.0, 0.0)),
        written(folder.path(), "west.tif", &Sheet::default()),
        written(folder.path(), "a_south_west.tif", &Sheet::default().moved(0.0, 2.0)),
        written(folder.path(), "south_east.tif", &Sheet::default().moved(3.0, 2.0)),
    ];
    let ground = read(&files).unwrap().ground;
    assert_eq!(ground.frame, Frame::new(6, 4, (500_000.0, 4_800_000.0), (10.0, 10.0)).unwrap());
    let row = [[1.0, 2.0, 3.0, 1.0, 2.0, 3.0], [4.0, 5.0, 6.0, 4.0, 5.0, 6.0]].concat();
    assert_eq!(ground.values, [row.clone(), row].concat());
}

#[test]
fn the_first_tile_with_a_value_counts_in_the_order_of_paths() {
    let folder = folder();
    let a = Sheet { values: vec![10.0, f32::NAN, 30.0, 40.0, 50.0, 60.0], ..Sheet::default() };
    let files = [written(folder.path(), "b.tif", &Sheet::default()), written(folder.path(), "a.tif", &a)];
    assert_eq!(read(&files).unwrap().ground.values, [10.0, 2.0, 30.0, 40.0, 50.0, 60.0]);
}

#[test]
fn a_missing_tile_is_named_by_its_extent() {
    let folder = folder();
    let files = [
        written(folder.path(), "a.tif", &Sheet::default()),
        written(folder.path(), "b.tif", &Sheet::default().moved(3.0, 0.0)),
        written(folder.path(), "c.tif", &Sheet::default().moved(0.0, 2.0)),
    ];
    let problem = one_problem(&request(&files));
    assert_eq!(problem.found, "no tile between x 500030 and 500060, y 4799960 and 4799980");
}

#[test]
fn tiles_must_share_one_lattice_and_one_system() {
    let folder = folder();
    let check = |name: &str, sheet: &Sheet, found: &str| {
        let files = [written(folder.path(), "a.tif", &Sheet::default()), written(folder.path(), name, sheet)];
        let problem = one_problem(&request(&files));
        assert!(problem.file.ends_with(name) && problem.found.contains(found), "{problem}");
    };
    check("half.tif", &Sheet::default().moved(3.5, 0.0), "0.500 of a cell off");
    let coarse = Sheet { transform: [500_030.0, 20.0, 0.0, 4_800_000.0, 0.0, -20.0], ..Sheet::default() };
    check("coarse.tif", &coarse, "cells of 20 by 20");
    check("zone.tif", &Sheet { crs: Some("EPSG:26918"), ..Sheet::default() }.moved(3.0, 0.0), "EPSG:26918");
    check("none.tif", &Sheet { crs: None, ..Sheet::default() }.moved(3.0, 0.0), "no reference system");
    check("feet.tif", &Sheet { unit: "ft", ..Sheet::default() }.moved(3.0, 0.0), "heights in ft");
    let nearly = [written(folder.path(), "a.tif", &Sheet::default()), folder.path().join("nearly.tif")];
    Sheet::default().moved(3.000_5, 0.0).write(&nearly[1]);
    assert_eq!(read(&nearly).unwrap().ground.frame.cols(), 6);
}

#[test]
fn every_faulty_file_is_told() {
    let folder = folder();
    let files = [
        folder.path().join("missing.tif"),
        written(folder.path(), "bands.tif", &Sheet { bands: 2, ..Sheet::default() }),
        written(folder.path(), "unit.tif", &Sheet { unit: "cubit", ..Sheet::default() }),
    ];
    assert_eq!(read(&files).unwrap_err().len(), 3);
    assert_eq!(one_problem(&request(&[])).found, "no file");
}

#[test]
fn a_truncated_file_is_a_problem_at_every_length() {
    let folder = folder();
    let sheet = Sheet { options: &["COMPRESS=DEFLATE"], ..Sheet::of(64, (0..4096).map(|i| i as f32).collect()) };
    let whole = std::fs::read(written(folder.path(), "whole.tif", &sheet)).unwrap();
    let path = folder.path().join("cut.tif");
    for length in (0..whole.len() - 1).step_by(whole.len() / 40) {
        std::fs::write(&path, &whole[..length]).unwrap();
        let read = read(std::slice::from_ref(&path));
        assert!(read.is_err(), "{length} of {} bytes", whole.len());
    }
}

const BLOCKS: &[&str] = &["COMPRESS=DEFLATE", "TILED=YES", "BLOCKXSIZE=256", "BLOCKYSIZE=256"];

fn read_on(threads: usize, path: &Path) -> Result<Elevation, Vec<Problem>> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
    pool.install(|| read(&[path.to_owned()]))
}

#[test]
fn many_rows_come_in_order_on_any_number_of_threads() {
    let folder = folder();
    let heights: Vec<f32> = (0..1500 * 3000).map(|cell| (cell % 9973) as f32).collect();
    let path = written(folder.path(), "large.tif", &Sheet { options: BLOCKS, ..Sheet::of(1500, heights.clone()) });
    for threads in [1, 2, 8] {
        assert!(read_on(threads, &path).unwrap().ground.values == heights, "{threads} threads");
    }
}

/// Some damage still decompresses, to other heights.
#[test]
fn a_damaged_block_is_told_alike_on_any_number_of_threads() {
    let folder = folder();
    let heights = (0..700 * 600).map(|cell| (cell % 9973) as f32).collect();
    let whole =
        std::fs::read(written(folder.path(), "whole.tif", &Sheet { options: BLOCKS, ..Sheet::of(700, heights) }));
    let whole = whole.unwrap();
    let path = folder.path().join("damaged.tif");
    let reported = |threads| read_on(threads, &path).err().map(|problems| problems[0].to_string());
    let mut refused = 0;
    for tenth in 1..9 {
        let mut damaged = whole.clone();
        damaged[whole.len() / 10 * tenth..][..64].fill(0x55);
        std::fs::write(&path, &damaged).unwrap();
        let expected = reported(1);
        if let Some(reported) = &expected {
            assert!(reported.contains("cells that cannot be read near row 1 of 600 (ZIPDecode"), "{reported}");
            refused += 1;
        }
        for threads in [2, 8] {
            assert_eq!(reported(threads), expected, "{threads} threads");
        }
    }
    assert!(refused > 0);
}

#[test]
fn a_header_that_claims_too_much_is_refused_at_once() {
    let folder = folder();
    let path = folder.path().join("bomb.tif");
    let driver = gdal::DriverManager::get_driver_by_name("GTiff").unwrap();
    let options = gdal::raster::RasterCreationOptions::from_iter(["SPARSE_OK=TRUE", "TILED=YES", "BIGTIFF=YES"]);
    let mut dataset =
        driver.create_with_band_type_with_options::<f32, _>(&path, 400_000, 400_000, 1, &options).unwrap();
    dataset.set_geo_transform(&[500_000.0, 1.0, 0.0, 4_800_000.0, 0.0, -1.0]).unwrap();
    dataset.set_spatial_ref(&gdal::spatial_ref::SpatialRef::from_epsg(26917).unwrap()).unwrap();
    dataset.close().unwrap();
    let files = [path];
    let start = std::time::Instant::now();
    let problem = one_problem(&ElevationRequest { vertical_unit: Some(VerticalUnit::Metre), ..request(&files) });
    assert!(problem.found.starts_with("400000 x 400000 cells"), "{problem}");
    assert!(start.elapsed().as_secs_f64() < 1.0);
}

#[test]
fn a_warp_to_the_same_lattice_changes_nothing() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet::default())];
    for method in Resampling::ALL {
        let warp = Warp { crs: "EPSG:26917".to_owned(), cell_m: 10.0, method };
        let warped = read_elevation(&ElevationRequest { warp: Some(&warp), ..request(&files) }).unwrap();
        assert_eq!(warped.ground.frame, Frame::new(3, 2, (500_000.0, 4_800_000.0), (10.0, 10.0)).unwrap());
        if method != Resampling::CubicSpline {
            assert_eq!(warped.ground.values, [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], "{method:?}");
        }
    }
}

/// A plane in longitude and latitude stays the same plane, to what bilinear interpolation of a plane allows; the
/// longitudes and latitudes of the cells come from the projection that is checked against pyproj in `crs`.
#[test]
fn a_warp_puts_heights_where_they_belong() {
    const COLS: usize = 60;
    let (west, north, step) = (-81.2, 43.1, 0.001);
    let plane = |longitude: f64, latitude: f64| 1000.0 * (longitude - west) + 500.0 * (north - latitude);
    let centre =
        |index: usize| (west + (0.5 + (index % COLS) as f64) * step, north - (0.5 + (index / COLS) as f64) * step);
    let values = (0..COLS * 40).map(|index| plane(centre(index).0, centre(index).1) as f32).collect();
    let sheet =
        Sheet { crs: Some("EPSG:4269"), transform: [west, step, 0.0, north, 0.0, -step], ..Sheet::of(COLS, values) };
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &sheet)];
    let warp = Warp { crs: "EPSG:26917".to_owned(), cell_m: 50.0, method: Resampling::Bilinear };
    let request = ElevationRequest { warp: Some(&warp), ..request(&files) };
    let warped = read_elevation(&request).unwrap();
    let frame = warped.ground.frame;
    assert_eq!(describe_elevation(&request).unwrap().frame, frame);
    assert_eq!((frame.west() % 50.0, frame.north() % 50.0), (0.0, 0.0));
    assert_eq!(warped.crs.code(), Some("EPSG:26917"));
    let back = Projector::new(&warped.crs, &Crs::from_text("EPSG:4269").unwrap()).unwrap();
    let mut checked = 0;
    for (index, height) in warped.ground.values.iter().enumerate() {
        let (longitude, latitude) = back.point(frame.centre(fallwright_units::Cell(index))).unwrap();
        let inside = |value: f64, from: f64, to: f64| value > from + step && value < to - step;
        let within = inside(longitude, west, west + COLS as f64 * step) && inside(latitude, north - 40.0 * step, north);
        if within {
            assert!((f64::from(*height) - plane(longitude, latitude)).abs() < 1e-3, "cell {index}: {height}");
            checked += 1;
        }
    }
    assert!(checked > 5000, "{checked}");
    assert!(warped.ground.values.iter().any(|height| height.is_nan()), "corners of a turned rectangle stay empty");
}

#[test]
fn a_warp_keeps_nodata_out_of_the_means() {
    let folder = folder();
    let mut values = vec![100.0_f32; 400];
    values[210] = -9999.0;
    let sheet = Sheet { nodata: Some(-9999.0), ..Sheet::of(20, values) };
    let files = [written(folder.path(), "dem.tif", &sheet)];
    let warp = Warp { crs: "EPSG:26916".to_owned(), cell_m: 7.0, method: Resampling::Bilinear };
    let warped = read_elevation(&ElevationRequest { warp: Some(&warp), ..request(&files) }).unwrap();
    assert!(warped.ground.values.iter().all(|height| height.is_nan() || (height - 100.0).abs() < 1e-3));
}

#[test]
fn a_warp_that_cannot_be_is_refused() {
    let folder = folder();
    let files = [written(folder.path(), "dem.tif", &Sheet::default())];
    let check = |crs: &str, cell_m: f64, case: Option<&str>, found: &str| {
        let warp = Warp { crs: crs.to_owned(), cell_m, method: Resampling::Bilinear };
        let problem = one_problem(&ElevationRequest { warp: Some(&warp), crs: case, ..request(&files) });
        assert!(problem.found.contains(found), "{problem}");
    };
    check("EPSG:4326", 10.0, None, "measured in degree");
    check("EPSG:2264", 10.0, None, "measured in US survey foot");
    check("nowhere", 10.0, None, "is not understood");
    check("EPSG:26918", 0.0, None, "cells of 0 m");
    check("EPSG:26918", f64::NAN, None, "cells of NaN m");
    check("EPSG:26918", 1e-4, None, "a warp to 3");
    check("EPSG:26918", 10.0, Some("EPSG:26917"), "a warp to EPSG:26918");
    check("+proj=utm +zone=17 +ellps=clrk66 +units=m", 10.0, None, "no transformation");
}

#[test]
fn resampling_words() {
    for method in Resampling::ALL {
        assert_eq!(Resampling::from_name(method.name()), Some(method));
    }
    assert_eq!(Resampling::from_name("best"), None);
}
