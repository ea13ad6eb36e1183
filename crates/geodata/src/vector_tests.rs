use std::io::Read;
use std::net::TcpListener;
use std::path::PathBuf;

use gdal::DriverManager;
use gdal::spatial_ref::SpatialRef;
use gdal::vector::{FieldDefn, LayerOptions};

use super::*;
use crate::At;
use crate::testing::folder;

fn utm() -> Crs {
    Crs::from_text("EPSG:26917").unwrap()
}

fn text(folder: &tempfile::TempDir, name: &str, content: &str) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, content).unwrap();
    path
}

fn one_problem(path: &Path, layer: Option<&str>) -> Problem {
    let mut problems = read_vector(path, layer, &utm(), None).unwrap_err();
    assert_eq!(problems.len(), 1, "{problems:?}");
    problems.remove(0)
}

/// One feature a line: properties and geometry.
fn collection(features: &[&str]) -> String {
    format!("{{\"type\":\"FeatureCollection\",\"features\":[{}]}}", features.join(","))
}

const POINT: &str =
    r#"{"type":"Feature","properties":{"id":"007"},"geometry":{"type":"Point","coordinates":[-81,43]}}"#;

/// A layer of one polygon with a hole in EPSG:26917, by GDAL's own driver.
fn write_square(driver: &str, path: &Path, crs: Option<&str>, layer: &str) {
    let mut dataset = DriverManager::get_driver_by_name(driver).unwrap().create_vector_only(path).unwrap();
    let spatial = crs.map(|crs| SpatialRef::from_definition(crs).unwrap());
    let options = LayerOptions {
        name: layer,
        srs: spatial.as_ref(),
        ty: OGRwkbGeometryType::wkbPolygon,
        ..LayerOptions::default()
    };
    let layer = dataset.create_layer(options).unwrap();
    for (name, kind) in [
        ("roll", OGRFieldType::OFTString),
        ("long", OGRFieldType::OFTInteger64),
        ("width", OGRFieldType::OFTReal),
        ("empty", OGRFieldType::OFTString),
        ("flown", OGRFieldType::OFTDate),
    ] {
        let field = FieldDefn::new(name, kind).unwrap();
        if name == "long" {
            field.set_width(18);
        }
        field.add_to_layer(&layer).unwrap();
    }
    let mut feature = Feature::new(layer.defn()).unwrap();
    feature.set_field_string(0, "0042 Zoë").unwrap();
    feature.set_field_integer64(1, 123_456_789_012_345_678).unwrap();
    feature.set_field_double(2, 2.5).unwrap();
    feature.set_field_string(4, "2022/04/01").unwrap();
    feature
        .set_geometry(
            Geometry::from_wkt(
                "POLYGON ((500000 4800000, 500100 4800000, 500100 4800100, 500000 4800100, 500000 4800000), \
                 (500010 4800010, 500010 4800020, 500020 4800020, 500010 4800010))",
            )
            .unwrap(),
        )
        .unwrap();
    feature.create(&layer).unwrap();
    drop(feature);
    dataset.close().unwrap();
}

#[test]
fn every_format_comes_in_alike() {
    let folder = folder();
    for (driver, name) in [("GPKG", "a.gpkg"), ("ESRI Shapefile", "a.shp"), ("FlatGeobuf", "a.fgb")] {
        let path = folder.path().join(name);
        write_square(driver, &path, Some("EPSG:26917"), "a");
        let layer = read_vector(&path, None, &utm(), None).unwrap();
        assert_eq!(layer.layer, "a");
        assert_eq!(layer.fields, ["roll", "long", "width", "empty", "flown"], "{driver}");
        let feature = &layer.features[0];
        assert_eq!(feature.position, 1);
        let attribute = |name: &str| feature.attributes[name].clone();
        assert_eq!(attribute("roll"), Attribute::Text("0042 Zoë".to_owned()), "{driver}");
        assert_eq!(attribute("long"), Attribute::Integer(123_456_789_012_345_678), "{driver}");
        assert_eq!(attribute("width"), Attribute::Real(2.5), "{driver}");
        assert_eq!(attribute("empty").text(), None, "{driver}");
        assert_eq!(attribute("flown").text().as_deref(), Some("2022-04-01"), "{driver}");
        let Some(geo::Geometry::Polygon(polygon)) = &feature.geometry else { panic!("{driver}: {feature:?}") };
        assert_eq!(geo::Area::unsigned_area(polygon), 100.0 * 100.0 - 50.0, "{driver}");
    }
}

/// Expected coordinates from pyproj 3.7.2 with PROJ 9.5.1, `Transformer.from_crs("OGC:CRS84", "EPSG:26917")`.
#[test]
fn geojson_is_longitude_and_latitude_and_is_projected() {
    let folder = folder();
    let point = POINT.replace("-81,43", "-80.5,43.25,999.0");
    let path = text(&folder, "points.geojson", &collection(&[&point]));
    let layer = read_vector(&path, None, &utm(), None).unwrap();
    let Some(geo::Geometry::Point(point)) = layer.features[0].geometry else { panic!("a point") };
    assert!((point.x() - 540_588.590_83).abs() < 1e-3 && (point.y() - 4_788_698.827_77).abs() < 1e-3, "{point:?}");
}

#[test]
fn attributes_keep_their_kind() {
    let folder = folder();
    let properties = r#"{"id":"000123","long":9007199254740993,"real":2.5,"yes":true,"none":null,
        "words":["a","b"],"numbers":[1,2],"object":{"k":1}}"#;
    let path = text(
        &folder,
        "kinds.geojson",
        &collection(&[
            &POINT.replace(r#"{"id":"007"}"#, properties),
            &POINT.replace(r#"{"id":"007"}"#, r#"{"id":"7","extra":"only here"}"#),
        ]),
    );
    let layer = read_vector(&path, None, &utm(), None).unwrap();
    let value = |feature: usize, name: &str| layer.features[feature].attributes[name].clone();
    assert_eq!(value(0, "id"), Attribute::Text("000123".to_owned()));
    assert_eq!(value(0, "long"), Attribute::Integer(9_007_199_254_740_993));
    assert_eq!(value(0, "real"), Attribute::Real(2.5));
    assert_eq!(value(0, "yes").flag(), Some(true));
    assert_eq!(value(0, "none"), Attribute::Null);
    assert_eq!(value(0, "words"), Attribute::List(vec!["a".to_owned(), "b".to_owned()]));
    assert_eq!(value(0, "numbers"), Attribute::List(vec!["1".to_owned(), "2".to_owned()]));
    assert_eq!(value(0, "object").text().map(|text| text.replace(' ', "")), Some(r#"{"k":1}"#.to_owned()));
    assert_eq!(value(1, "long"), Attribute::Null);
    assert_eq!(value(0, "extra"), Attribute::Null);
    assert_eq!(layer.features[1].position, 2);
}

#[test]
fn features_without_a_geometry_and_empty_layers_are_for_the_caller_to_judge() {
    let folder = folder();
    let bare = r#"{"type":"Feature","properties":{"id":"1"},"geometry":null}"#;
    let empty = r#"{"type":"Feature","properties":{"id":"2"},"geometry":{"type":"Polygon","coordinates":[]}}"#;
    let layer =
        read_vector(&text(&folder, "bare.geojson", &collection(&[bare, empty, POINT])), None, &utm(), None).unwrap();
    let has: Vec<bool> = layer.features.iter().map(|feature| feature.geometry.is_some()).collect();
    assert_eq!(has, [false, false, true]);
    let layer = read_vector(&text(&folder, "empty.geojson", &collection(&[])), None, &utm(), None).unwrap();
    assert!(layer.features.is_empty());
}

#[test]
fn one_layer_is_chosen() {
    let folder = folder();
    let path = folder.path().join("two.gpkg");
    let mut dataset = DriverManager::get_driver_by_name("GPKG").unwrap().create_vector_only(&path).unwrap();
    let spatial = SpatialRef::from_epsg(26917).unwrap();
    for name in ["parcels", "drains"] {
        dataset.create_layer(LayerOptions { name, srs: Some(&spatial), ..LayerOptions::default() }).unwrap();
    }
    dataset.close().unwrap();
    assert_eq!(read_vector(&path, Some("drains"), &utm(), None).unwrap().layer, "drains");
    assert_eq!(one_problem(&path, None).found, "2 layers: parcels, drains");
    assert_eq!(one_problem(&path, Some("roads")).found, "no layer roads; there are parcels, drains");
}

#[test]
fn files_that_cannot_be_read() {
    let folder = folder();
    assert_eq!(one_problem(&folder.path().join("none.geojson"), None).found, "no such file");
    assert_eq!(one_problem(folder.path(), None).found, "a folder");
    let check = |name: &str, content: &str| {
        let problem = one_problem(&text(&folder, name, content), None);
        assert!(problem.found.starts_with("a file that cannot be read as vectors"), "{problem}");
    };
    check("broken.geojson", "{\"type\":\"FeatureCollection\",\"features\":[");
    check("words.txt", "no vectors here");
    check("none.geojson", "");
    check("table.csv", "id,x,y\n1,2,3\n");
    check(
        "hostile.shp",
        "<OGRVRTDataSource><OGRVRTLayer name=\"a\"><SrcDataSource>a.csv</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>",
    );
}

#[test]
fn a_layer_must_say_its_reference_system() {
    let folder = folder();
    let path = folder.path().join("a.shp");
    write_square("ESRI Shapefile", &path, None, "a");
    let problem = one_problem(&path, None);
    assert_eq!((problem.layer.as_deref(), problem.found.as_str()), (Some("a"), "no reference system"));
    let path = folder.path().join("odd.gpkg");
    write_square("GPKG", &path, Some("+proj=longlat +ellps=clrk66"), "odd");
    assert!(one_problem(&path, None).found.starts_with("no transformation"));
}

#[test]
fn curves_and_places_off_the_earth_name_their_feature() {
    let folder = folder();
    let path = folder.path().join("curve.gpkg");
    let mut dataset = DriverManager::get_driver_by_name("GPKG").unwrap().create_vector_only(&path).unwrap();
    let spatial = SpatialRef::from_epsg(26917).unwrap();
    let options = LayerOptions {
        name: "curves",
        srs: Some(&spatial),
        ty: OGRwkbGeometryType::wkbUnknown,
        ..LayerOptions::default()
    };
    let layer = dataset.create_layer(options).unwrap();
    for wkt in ["POINT (500000 4800000)", "CIRCULARSTRING (0 0, 1 1, 2 0)"] {
        let mut feature = Feature::new(layer.defn()).unwrap();
        feature.set_geometry(Geometry::from_wkt(wkt).unwrap()).unwrap();
        feature.create(&layer).unwrap();
    }
    dataset.close().unwrap();
    let problem = one_problem(&path, None);
    assert_eq!(problem.at, Some(At::Feature("number 2".to_owned())));
    assert!(problem.found.contains("Circular"), "{problem}");

    let off = POINT.replace("-81,43", "-81,123");
    let path = text(&folder, "off.geojson", &collection(&[POINT, &off, POINT, &off]));
    let problems = read_vector(&path, None, &utm(), None).unwrap_err();
    let features: Vec<_> = problems.iter().filter_map(|problem| problem.at.as_ref()).map(At::name).collect();
    assert_eq!(features, ["number 2", "number 4"]);
}

#[test]
fn a_truncated_file_is_never_a_shorter_layer() {
    let folder = folder();
    for (driver, name) in [("GPKG", "a.gpkg"), ("FlatGeobuf", "a.fgb"), ("ESRI Shapefile", "a.shp")] {
        let path = folder.path().join(name);
        write_square(driver, &path, Some("EPSG:26917"), "a");
        let whole = std::fs::read(&path).unwrap();
        for length in (0..whole.len() - 1).step_by(whole.len() / 30) {
            std::fs::write(&path, &whole[..length]).unwrap();
            if let Ok(layer) = read_vector(&path, None, &utm(), None) {
                assert_eq!(layer.features.len(), 1, "{driver} cut to {length} of {} bytes", whole.len());
                assert!(layer.features[0].geometry.is_some(), "{driver} cut to {length} of {} bytes", whole.len());
            }
        }
    }
}

#[test]
fn a_reference_system_by_address_is_not_followed() {
    let folder = folder();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    listener.set_nonblocking(true).unwrap();
    let address = format!("http://{}/crs", listener.local_addr().unwrap());
    for crs in [
        format!(r#"{{"type":"link","properties":{{"href":"{address}"}}}}"#),
        format!(r#"{{"type":"url","properties":{{"url":"{address}"}}}}"#),
        format!(r#"{{"type":"name","properties":{{"name":"{address}"}}}}"#),
        r#"{"type":"name","properties":{"name":"/etc/hostname"}}"#.to_owned(),
    ] {
        let content = collection(&[POINT]).replacen('{', &format!(r#"{{"crs":{crs},"#), 1);
        let problem = one_problem(&text(&folder, "address.geojson", &content), None);
        assert!(problem.found.starts_with("a reference system given as"), "{problem}");
    }
    let mut read = [0; 1];
    let connected = listener.accept().map(|(mut stream, _)| stream.read(&mut read).ok());
    assert!(connected.is_err(), "somebody connected");
}

#[test]
fn a_reference_system_by_code_is_understood() {
    let folder = folder();
    let point = POINT.replace("-81,43", "500000,4800000");
    for name in ["urn:ogc:def:crs:EPSG::26917", "EPSG:26917"] {
        let crs = format!(r#"{{"crs":{{"type":"name","properties":{{"name":"{name}"}}}},"#);
        let path = text(&folder, "coded.geojson", &collection(&[&point]).replacen('{', &crs, 1));
        let layer = read_vector(&path, None, &utm(), None).unwrap();
        let Some(geo::Geometry::Point(point)) = layer.features[0].geometry else { panic!("a point") };
        assert_eq!((point.x(), point.y()), (500_000.0, 4_800_000.0));
    }
}

/// A view may be a query without an end.
#[test]
fn a_view_of_a_geopackage_is_refused_unread() {
    let folder = folder();
    let path = folder.path().join("view.gpkg");
    write_square("GPKG", &path, Some("EPSG:26917"), "square");
    let change = |text: &str| {
        let options = gdal::DatasetOptions { open_flags: gdal::GdalOpenFlags::GDAL_OF_UPDATE, ..Default::default() };
        let mut dataset = Dataset::open_ex(&path, options).unwrap();
        drop(dataset.execute_sql(text, None, gdal::vector::sql::Dialect::DEFAULT).unwrap());
        dataset.flush_cache().unwrap();
    };
    change(
        "CREATE VIEW endless AS WITH RECURSIVE number(fid) AS (SELECT 1 UNION ALL SELECT fid + 1 FROM number) \
         SELECT number.fid AS fid, geom FROM number, square",
    );
    change(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES ('endless', 'features', 'endless', 26917)",
    );
    change("INSERT INTO gpkg_geometry_columns VALUES ('endless', 'geom', 'POLYGON', 26917, 0, 0)");
    let problem = one_problem(&path, Some("endless"));
    assert_eq!(
        (problem.layer.as_deref(), problem.found.as_str()),
        (Some("endless"), "a view, which is worked out when it is read")
    );
    assert_eq!(read_vector(&path, Some("square"), &utm(), None).unwrap().features.len(), 1);
}
