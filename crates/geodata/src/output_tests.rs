use fallwright_units::{Cell, VerticalUnit};
use geojson::{Feature, FeatureCollection, GeometryValue};
use serde_json::{Value, json};

use super::*;
use crate::testing::folder;
use crate::{Attribute, ElevationRequest, read_elevation, read_vector};

fn utm() -> Crs {
    Crs::from_text("EPSG:26917").unwrap()
}

fn frame() -> Frame {
    Frame::new(3, 2, (500_000.0, 4_800_000.0), (10.0, 10.0)).unwrap()
}

fn feature(geometry: Option<geo::Geometry<f64>>, properties: &Value) -> Feature {
    Feature {
        geometry: geometry.map(|geometry| geojson::Geometry::new(GeometryValue::from(&geometry))),
        properties: properties.as_object().cloned(),
        ..Feature::default()
    }
}

fn line() -> geo::Geometry<f64> {
    geo::LineString::from(vec![(500_000.0, 4_800_000.0), (500_100.0, 4_800_000.0)]).into()
}

/// A square with a hole, both rings the wrong way round for RFC 7946.
fn square() -> geo::Polygon<f64> {
    let ring = |west: f64, south: f64, size: f64| {
        vec![(west, south), (west, south + size), (west + size, south + size), (west + size, south), (west, south)]
    };
    let mut hole = ring(500_010.0, 4_800_010.0, 10.0);
    hole.reverse();
    geo::Polygon::new(ring(500_000.0, 4_800_000.0, 100.0).into(), vec![hole.into()])
}

fn collection() -> FeatureCollection {
    FeatureCollection::new([
        feature(
            Some(square().into()),
            &json!({"id": "007", "ha": 1.5, "n": 3, "ok": true, "list": ["a", 1], "mixed": 1}),
        ),
        feature(
            Some(geo::MultiPolygon(vec![square()]).into()),
            &json!({"id": "8", "ha": 2, "n": null, "mixed": "one"}),
        ),
        feature(None, &json!({"id": "9", "FID": "text", "ok": false})),
    ])
}

/// Names in a folder, sorted.
fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// One file of every kind.
fn write_all(output: &mut OutputFolder) {
    let ground = RasterMeta { description: "ground", unit: Some("m"), ..RasterMeta::default() };
    let codes = RasterMeta {
        description: "direction",
        nodata: Some(255.0),
        categories: Some(vec![(0, "none".to_owned()), (8, "north".to_owned()), (255, "nodata".to_owned())]),
        ..RasterMeta::default()
    };
    let area = RasterMeta { description: "area draining", nodata: Some(0.0), ..RasterMeta::default() };
    let heights = [1.5, 2.5, f32::NAN, 4.0, 5.0, 6.0];
    output.write_raster("ground.tif", &frame(), &utm(), RasterValues::F32(&heights), &ground).unwrap();
    output.write_raster("direction.tif", &frame(), &utm(), RasterValues::U8(&[0, 8, 8, 8, 255, 8]), &codes).unwrap();
    output.write_raster("area.tif", &frame(), &utm(), RasterValues::U32(&[1, 2, u32::MAX, 0, 5, 6]), &area).unwrap();
    output
        .write_raster("large.tif", &frame(), &utm(), RasterValues::F64(&[1e12, 2.0, 3.0, 4.0, 5.0, 6.0]), &area)
        .unwrap();
    output.write_geojson("parcels.geojson", &collection(), &utm()).unwrap();
    let lines = FeatureCollection::new([feature(Some(line()), &json!({"name": "Zoë"}))]);
    output.write_geopackage("case.gpkg", &[("parcels", &collection()), ("drains", &lines)], &utm()).unwrap();
    output.write_bytes("run.json", b"{}\n").unwrap();
}

const WRITTEN: [&str; 8] = [
    "area.tif",
    "case.gpkg",
    "direction.tif",
    "direction.tif.aux.xml",
    "ground.tif",
    "large.tif",
    "parcels.geojson",
    "run.json",
];

#[test]
fn an_earlier_run_s_file_that_is_left_out_is_gone_after_commit() {
    let folder = folder();
    for name in ["spread.tif", "spread.tif.aux.xml", "mine.txt"] {
        fs::write(folder.path().join(name), "old").unwrap();
    }
    let mut output = OutputFolder::create(folder.path(), true).unwrap();
    output.leave_out("spread.tif");
    output.leave_out("never_there.gpkg");
    output.write_bytes("run.json", b"{}\n").unwrap();
    assert!(folder.path().join("spread.tif").exists());
    output.commit().unwrap();
    assert_eq!(names(folder.path()), ["mine.txt", "run.json"]);
}

#[test]
fn nothing_has_its_name_before_commit_and_everything_after() {
    let folder = folder();
    let path = folder.path().join("a/b");
    let mut output = OutputFolder::create(&path, false).unwrap();
    write_all(&mut output);
    assert!(names(&path).iter().all(|name| name.starts_with(PARTIAL)), "{:?}", names(&path));
    let digests = output.digests();
    output.commit().unwrap();
    assert_eq!(names(&path), WRITTEN);
    assert_eq!(digests.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), WRITTEN);
    for (name, digest) in digests {
        assert_eq!(sha256(&path.join(name)).unwrap(), digest);
    }
}

/// SHA-256 of "abc": FIPS 180-4 example, NIST "SHA-256 example values".
#[test]
fn digests_are_sha256() {
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    output.write_bytes("abc.txt", b"abc").unwrap();
    let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(output.digests(), [("abc.txt".to_owned(), expected.to_owned())]);
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let (first, second) = (folder(), folder());
    let mut digests = Vec::new();
    for folder in [&first, &second] {
        let mut output = OutputFolder::create(folder.path(), false).unwrap();
        write_all(&mut output);
        digests.push(output.digests());
        output.commit().unwrap();
        std::thread::sleep(std::time::Duration::from_millis(1100));
    }
    assert_eq!(digests[0], digests[1]);
}

#[test]
fn without_commit_nothing_stays() {
    let folder = folder();
    let path = folder.path().join("a/b");
    let mut output = OutputFolder::create(&path, false).unwrap();
    write_all(&mut output);
    drop(output);
    assert!(names(folder.path()).is_empty());

    fs::write(folder.path().join("old.txt"), "old").unwrap();
    let mut output = OutputFolder::create(folder.path(), true).unwrap();
    output.write_bytes("old.txt", b"new").unwrap();
    drop(output);
    assert_eq!(names(folder.path()), ["old.txt"]);
    assert_eq!(fs::read(folder.path().join("old.txt")).unwrap(), b"old");
}

#[test]
fn a_folder_with_files_needs_overwrite() {
    let folder = folder();
    fs::write(folder.path().join("parcels.geojson"), "old").unwrap();
    fs::write(folder.path().join("parcels.geojson.aux.xml"), "old").unwrap();
    fs::write(folder.path().join("notes.txt"), "mine").unwrap();
    assert!(matches!(OutputFolder::create(folder.path(), false), Err(OutputError::NotEmpty { .. })));
    assert_eq!(names(folder.path()).len(), 3);
    let mut output = OutputFolder::create(folder.path(), true).unwrap();
    output.write_geojson("parcels.geojson", &collection(), &utm()).unwrap();
    output.commit().unwrap();
    assert_eq!(names(folder.path()), ["notes.txt", "parcels.geojson"]);
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let folder = folder();
    let file = folder.path().join("file");
    fs::write(&file, "").unwrap();
    for path in [file.clone(), file.join("below")] {
        let error = OutputFolder::create(&path, true).unwrap_err();
        assert!(error.to_string().starts_with(path.to_str().unwrap()), "{error}");
    }
    assert_eq!(names(folder.path()), ["file"]);
}

#[test]
fn what_a_killed_process_left_is_removed() {
    let folder = folder();
    // Process numbers end far below this one (Linux: 2²² at most).
    fs::create_dir(folder.path().join(format!("{PARTIAL}4000000000"))).unwrap();
    let own = folder.path().join(format!("{PARTIAL}{}", std::process::id()));
    fs::create_dir(&own).unwrap();
    fs::write(own.join("half.tif"), "half").unwrap();
    OutputFolder::create(folder.path(), false).unwrap().commit().unwrap();
    assert!(names(folder.path()).is_empty());
}

#[test]
fn one_folder_is_written_once_at_a_time() {
    let folder = folder();
    let first = OutputFolder::create(folder.path(), true).unwrap();
    assert!(matches!(OutputFolder::create(folder.path(), true), Err(OutputError::NotWritten { .. })));
    drop(first);
    assert!(OutputFolder::create(folder.path(), true).is_ok());
}

#[test]
fn names_stay_inside_the_folder() {
    let folder = folder();
    let path = folder.path().join("out");
    let mut output = OutputFolder::create(&path, false).unwrap();
    let long = "x".repeat(256);
    for name in ["", ".", "..", "../up", "/etc/up", "a/b", "a\\b", "nul\0", "a/", ".fallwright-partial-1", &long] {
        let error = output.write_bytes(name, b"x").unwrap_err();
        assert!(matches!(error, OutputError::Name { .. }), "{name:?}: {error}");
    }
    output.write_bytes("a", b"x").unwrap();
    assert!(matches!(output.write_bytes("a", b"y"), Err(OutputError::Twice { .. })));
    output.commit().unwrap();
    assert_eq!(names(folder.path()), ["out"]);
    assert_eq!(names(&path), ["a"]);
}

#[test]
fn a_raster_comes_back_cell_for_cell() {
    let folder = folder();
    let frame = Frame::new(300, 270, (500_000.0, 4_800_000.0), (2.0, 2.0)).unwrap();
    let heights: Vec<f32> =
        (0..frame.len()).map(|cell| if cell % 7 == 0 { f32::NAN } else { cell as f32 / 3.0 }).collect();
    let meta = RasterMeta { description: "ground", unit: Some("m"), ..RasterMeta::default() };
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    output.write_raster("ground.tif", &frame, &utm(), RasterValues::F32(&heights), &meta).unwrap();
    output.commit().unwrap();
    let files = [folder.path().join("ground.tif")];
    let request = ElevationRequest { files: &files, vertical_unit: None, crs: None, warp: None, max_bytes: 1 << 30 };
    let elevation = read_elevation(&request).unwrap();
    assert_eq!(elevation.ground.frame, frame);
    assert_eq!(elevation.vertical_unit, VerticalUnit::Metre);
    assert_eq!(elevation.crs.code(), Some("EPSG:26917"));
    for (cell, height) in heights.iter().enumerate() {
        assert!(elevation.ground[Cell(cell)].to_bits() == height.to_bits() || height.is_nan());
        assert_eq!(elevation.ground[Cell(cell)].is_nan(), height.is_nan());
    }
}

#[test]
fn a_raster_says_what_it_holds() {
    use gdal::Metadata;
    use gdal::raster::GdalDataType::{Float64, UInt8, UInt32};
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    write_all(&mut output);
    output.commit().unwrap();
    let check =
        |name: &str, kind: gdal::raster::GdalDataType, description: &str, nodata: Option<f64>, cells: &[f64]| {
            let dataset = gdal::Dataset::open(folder.path().join(name)).unwrap();
            let band = dataset.rasterband(1).unwrap();
            assert_eq!(band.band_type(), kind);
            assert_eq!(band.description().unwrap(), description);
            assert_eq!(band.no_data_value().map(f64::to_bits), nodata.map(f64::to_bits), "{name}");
            assert_eq!(band.read_band_as::<f64>().unwrap().data(), cells);
            assert_eq!(dataset.metadata_item("COMPRESSION", "IMAGE_STRUCTURE").as_deref(), Some("DEFLATE"));
        };
    check("direction.tif", UInt8, "direction", Some(255.0), &[0.0, 8.0, 8.0, 8.0, 255.0, 8.0]);
    check("area.tif", UInt32, "area draining", Some(0.0), &[1.0, 2.0, 4_294_967_295.0, 0.0, 5.0, 6.0]);
    check("large.tif", Float64, "area draining", Some(0.0), &[1e12, 2.0, 3.0, 4.0, 5.0, 6.0]);
    let names = fs::read_to_string(folder.path().join("direction.tif.aux.xml")).unwrap();
    assert!(names.contains("<Category>north</Category>"), "{names}");
}

#[test]
fn values_must_fit_the_frame() {
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    let error =
        output.write_raster("a.tif", &frame(), &utm(), RasterValues::U8(&[1, 2]), &RasterMeta::default()).unwrap_err();
    assert!(matches!(error, OutputError::Encoding { .. }), "{error}");
}

/// RFC 7946: sections 3.1.6 (right-hand rule), 4 (longitude and latitude, no `crs`); expected corner from pyproj 3.7.2
/// with PROJ 9.5.1, `Transformer.from_crs("EPSG:26917", "OGC:CRS84", always_xy=True)`.
#[test]
fn geojson_is_as_rfc_7946_has_it() {
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    output.write_geojson("parcels.geojson", &collection(), &utm()).unwrap();
    output.commit().unwrap();
    let text = fs::read_to_string(folder.path().join("parcels.geojson")).unwrap();
    let parsed: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(parsed["name"], "parcels");
    assert!(parsed.get("crs").is_none());
    let rings = &parsed["features"][0]["geometry"]["coordinates"];
    let turn = |ring: &Value| {
        let at = |index: usize| (ring[index][0].as_f64().unwrap(), ring[index][1].as_f64().unwrap());
        (0..4).map(|index| (at(index), at(index + 1))).map(|(a, b)| a.0 * b.1 - b.0 * a.1).sum::<f64>()
    };
    assert!(turn(&rings[0]) > 0.0 && turn(&rings[1]) < 0.0);
    let corners = rings[0].as_array().unwrap();
    assert!(corners.contains(&json!([-81.0, 43.352_855_393])), "{corners:?}");
    let decimals = |number: &Value| number.to_string().split_once('.').map_or(0, |(_, decimals)| decimals.len());
    assert!(corners.iter().flat_map(|corner| corner.as_array().unwrap()).all(|number| decimals(number) <= 9));
    assert_eq!(parsed["features"][0]["properties"]["id"], "007");
    assert_eq!(parsed["features"][2]["geometry"], Value::Null);
}

#[test]
fn geojson_comes_back() {
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    output.write_geojson("parcels.geojson", &collection(), &utm()).unwrap();
    output.commit().unwrap();
    let layer = read_vector(&folder.path().join("parcels.geojson"), None, &utm(), None).unwrap();
    assert_eq!(layer.features.len(), 3);
    assert_eq!(layer.features[0].attributes["id"], Attribute::Text("007".to_owned()));
    let Some(geo::Geometry::Polygon(polygon)) = &layer.features[0].geometry else { panic!("a polygon") };
    assert!((geo::Area::unsigned_area(polygon) - 9900.0).abs() < 0.05);
}

#[test]
fn a_geopackage_comes_back() {
    let folder = folder();
    let mut output = OutputFolder::create(folder.path(), false).unwrap();
    write_all(&mut output);
    output.commit().unwrap();
    let path = folder.path().join("case.gpkg");
    let layer = read_vector(&path, Some("parcels"), &utm(), None).unwrap();
    assert_eq!(layer.fields, ["id", "ha", "n", "ok", "list", "mixed", "FID"]);
    let value = |feature: usize, name: &str| layer.features[feature].attributes[name].clone();
    assert_eq!(value(0, "id"), Attribute::Text("007".to_owned()));
    assert_eq!(value(0, "ha"), Attribute::Real(1.5));
    assert_eq!(value(1, "ha"), Attribute::Real(2.0));
    assert_eq!(value(0, "n"), Attribute::Integer(3));
    assert_eq!(value(1, "n"), Attribute::Null);
    assert_eq!(value(0, "ok").flag(), Some(true));
    assert_eq!(value(2, "ok").flag(), Some(false));
    assert_eq!(value(0, "list"), Attribute::Text("[\"a\",1]".to_owned()));
    assert_eq!(value(0, "mixed"), Attribute::Text("1".to_owned()));
    assert_eq!(value(2, "FID"), Attribute::Text("text".to_owned()));
    let Some(geo::Geometry::MultiPolygon(polygons)) = &layer.features[0].geometry else { panic!("polygons") };
    assert_eq!(polygons.0, [square()]);
    assert!(layer.features[2].geometry.is_none());
    let drains = read_vector(&path, Some("drains"), &utm(), None).unwrap();
    assert_eq!(drains.features[0].geometry, Some(line()));
    assert_eq!(drains.features[0].attributes["name"], Attribute::Text("Zoë".to_owned()));
}
