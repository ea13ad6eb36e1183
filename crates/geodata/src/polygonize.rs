//! Outlines of labelled cells.

use std::collections::{BTreeMap, BTreeSet};
use std::ptr;

use fallwright_units::Frame;
use gdal::cpl::CslStringList;
use gdal::vector::{FieldDefn, LayerAccess, LayerOptions, OGRFieldType};
use gdal::{Dataset, DriverManager};
use geo::algorithm::winding_order::{Winding, WindingOrder};
use geo::{Area, LineString, MultiPolygon, Polygon};

use crate::GeodataError;
use crate::library::attempt_strictly;

/// The outline of every label other than 0, in map coordinates.
///
/// Cells are joined across their sides, not across their corners: cells of one label that meet at a corner only are
/// polygons of their own. Sides follow the cells' sides; vertices stand at the corners only. Polygons are valid (OGC
/// 06-103r4, clause 6.1.11: rings may touch at points), exteriors counter-clockwise, and in the order in which their
/// first cell is met from north to south.
///
/// # Errors
/// Labels that do not fit the frame, or a fault of GDAL.
///
/// # Complexity
/// Linear in the cells, plus the outlines.
pub fn outlines(frame: &Frame, labels: &[u32]) -> Result<BTreeMap<u32, MultiPolygon<f64>>, GeodataError> {
    if labels.len() != frame.len() {
        return Err(GeodataError::ValueCount { found: labels.len(), expected: frame.len() });
    }
    // GDAL compares labels as signed 32-bit numbers, of which a negative one stands for none. Labels that are too large are
    // counted anew; their ranks always fit, since a frame this dense fits memory.
    let ranked = labels.iter().any(|&label| i32::try_from(label).is_err()).then(|| ranked(labels));
    let polygons = trace(frame, ranked.as_ref().map_or(labels, |(_, ranks)| ranks))
        .map_err(|reason| GeodataError::Gdal { action: "tracing outlines", reason })?;
    let mut outlines: BTreeMap<u32, Vec<Polygon<f64>>> = BTreeMap::new();
    for (number, rings) in polygons {
        let label = ranked.as_ref().map_or(number, |(distinct, _)| distinct[number as usize]);
        if label != 0 {
            outlines.entry(label).or_default().push(valid_polygon(frame, rings));
        }
    }
    Ok(outlines.into_iter().map(|(label, polygons)| (label, MultiPolygon(polygons))).collect())
}

/// The distinct labels in their order, and for each cell the position of its own among them.
fn ranked(labels: &[u32]) -> (Vec<u32>, Vec<u32>) {
    let distinct: Vec<u32> = labels.iter().copied().collect::<BTreeSet<_>>().into_iter().collect();
    let ranks = labels.iter().map(|label| distinct.partition_point(|other| other < label) as u32).collect();
    (distinct, ranks)
}

/// A ring's corners as columns and rows, closed.
type Ring = Vec<(i64, i64)>;

/// Outlines in columns and rows, with their label. Labels are read where they lie: a copy takes as much memory as the raster.
fn trace(frame: &Frame, labels: &[u32]) -> Result<Vec<(u32, Vec<Ring>)>, String> {
    let raster = attempt_strictly(|| {
        let driver = DriverManager::get_driver_by_name("MEM")?;
        let mut raster = driver.create_with_band_type::<i32, _>("", frame.cols(), frame.rows(), 0)?;
        add_band(&mut raster, labels)?;
        Ok::<_, gdal::errors::GdalError>(raster)
    })?;
    let mut vectors = attempt_strictly(|| DriverManager::get_driver_by_name("Memory")?.create_vector_only("outlines"))?;
    let mut layer = attempt_strictly(|| {
        let layer = vectors.create_layer(LayerOptions {
            name: "outlines",
            ty: gdal::vector::OGRwkbGeometryType::wkbPolygon,
            ..LayerOptions::default()
        })?;
        FieldDefn::new("label", OGRFieldType::OFTInteger)?.add_to_layer(&layer)?;
        Ok::<_, gdal::errors::GdalError>(layer)
    })?;
    attempt_strictly(|| polygonize(&raster, &layer))?;
    layer
        .features()
        .map(|feature| {
            let label = feature.field_as_integer(0).ok().flatten().ok_or("an outline without a label")?;
            let polygon = feature.geometry().ok_or("an outline without a geometry")?;
            let rings = (0..polygon.geometry_count()).map(|ring| corners(&polygon.get_geometry(ring))).collect();
            Ok((label as u32, rings))
        })
        .collect()
}

/// Adds a band of signed 32-bit numbers whose cells are the labels themselves.
fn add_band(raster: &mut Dataset, labels: &[u32]) -> gdal::errors::Result<()> {
    let mut options = CslStringList::new();
    options.set_name_value("DATAPOINTER", &format!("{:p}", labels.as_ptr()))?;
    // SAFETY: the labels outlive the raster, which the caller only reads; there is one for each of its cells.
    let added =
        unsafe { gdal_sys::GDALAddBand(raster.c_dataset(), gdal_sys::GDALDataType::GDT_Int32, options.as_ptr()) };
    if added == gdal_sys::CPLErr::CE_None {
        return Ok(());
    }
    Err(gdal::errors::GdalError::CplError { class: added, number: 0, msg: "a band in memory was refused".to_owned() })
}

fn polygonize(raster: &Dataset, layer: &gdal::vector::Layer) -> Result<(), String> {
    let band = raster.rasterband(1).map_err(|error| error.to_string())?;
    // SAFETY: band and layer are live and belong to datasets that outlive the call; no mask, options or progress.
    let done = unsafe {
        gdal_sys::GDALPolygonize(
            band.c_rasterband(),
            ptr::null_mut(),
            layer.c_layer(),
            0,
            ptr::null_mut(),
            None,
            ptr::null_mut(),
        )
    };
    if done == gdal_sys::CPLErr::CE_None { Ok(()) } else { Err("polygonizing did not finish".to_owned()) }
}

/// Without a position of its own the raster has its corner at (0, 0) and cells of 1 by 1, rows counted downward.
fn corners(ring: &gdal::vector::Geometry) -> Ring {
    let mut points = Vec::new();
    ring.get_points(&mut points);
    points.into_iter().map(|(col, row, _)| (col.round() as i64, row.round() as i64)).collect()
}

/// A ring that passes a corner twice is taken apart there, which makes every ring simple; of a set of cells joined
/// across their sides exactly one ring, the largest, is the exterior.
fn valid_polygon(frame: &Frame, rings: Vec<Ring>) -> Polygon<f64> {
    let x = |col: i64| frame.west() + col as f64 * frame.cell_width();
    let y = |row: i64| frame.north() - row as f64 * frame.cell_height();
    let to_map =
        |ring: Ring| LineString(ring.into_iter().map(|(col, row)| geo::coord! { x: x(col), y: y(row) }).collect());
    let mut rings: Vec<LineString<f64>> = rings.into_iter().flat_map(simple_rings).map(to_map).collect();
    let size = |ring: &LineString<f64>| Polygon::new(ring.clone(), Vec::new()).unsigned_area();
    let largest = (0..rings.len()).max_by(|&a, &b| size(&rings[a]).total_cmp(&size(&rings[b]))).unwrap_or(0);
    let mut exterior = rings.remove(largest);
    exterior.make_winding_order(WindingOrder::CounterClockwise);
    for ring in &mut rings {
        ring.make_winding_order(WindingOrder::Clockwise);
    }
    Polygon::new(exterior, rings)
}

/// Takes a closed ring apart at every corner that it passes twice.
fn simple_rings(ring: Ring) -> Vec<Ring> {
    let mut rings = Vec::new();
    let mut path: Ring = Vec::new();
    let mut place: BTreeMap<(i64, i64), usize> = BTreeMap::new();
    for corner in ring {
        if let Some(&start) = place.get(&corner) {
            let mut loop_ring: Ring = path.drain(start + 1..).collect();
            for passed in &loop_ring {
                place.remove(passed);
            }
            loop_ring.insert(0, corner);
            loop_ring.push(corner);
            rings.push(loop_ring);
        } else {
            place.insert(corner, path.len());
            path.push(corner);
        }
    }
    rings
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::Validation;

    /// Labels as rows of digits, cells of 10 m by 5 m with the north-west corner at (100, 200).
    fn traced(rows: &[&str]) -> BTreeMap<u32, MultiPolygon<f64>> {
        let labels: Vec<u32> =
            rows.iter().flat_map(|row| row.chars().map(|label| label.to_digit(10).unwrap())).collect();
        let frame = Frame::new(rows[0].len(), rows.len(), (100.0, 200.0), (10.0, 5.0)).unwrap();
        let outlines = outlines(&frame, &labels).unwrap();
        for (label, outline) in &outlines {
            assert!(outline.is_valid(), "label {label}: {outline:?}");
            let cells = labels.iter().filter(|other| *other == label).count();
            assert_eq!(outline.unsigned_area(), cells as f64 * 50.0, "label {label}");
        }
        outlines
    }

    /// Polygons and holes of label 1.
    fn check(rows: &[&str], polygons: usize, holes: usize) {
        let outline = traced(rows).remove(&1).unwrap();
        assert_eq!(outline.0.len(), polygons, "{rows:?}");
        assert_eq!(outline.iter().map(|polygon| polygon.interiors().len()).sum::<usize>(), holes, "{rows:?}");
    }

    #[test]
    fn one_cell_in_map_coordinates() {
        let outline = traced(&["00", "01"]).remove(&1).unwrap();
        let corners: BTreeSet<(i64, i64)> =
            outline.0[0].exterior().0.iter().map(|at| (at.x as i64, at.y as i64)).collect();
        assert_eq!(corners, BTreeSet::from([(110, 195), (120, 195), (120, 190), (110, 190)]));
    }

    #[test]
    fn cells_join_across_sides_only() {
        check(&["11", "11"], 1, 0);
        check(&["10", "01"], 2, 0);
        check(&["101"], 2, 0);
    }

    #[test]
    fn holes_stay_open() {
        check(&["111", "101", "111"], 1, 1);
        check(&["11111", "10101", "11111"], 1, 2);
    }

    #[test]
    fn a_hole_that_touches_the_edge_or_another_hole_at_a_corner_is_a_ring_of_its_own() {
        check(&["111", "101", "110"], 1, 1);
        check(&["11111", "10111", "11011", "11111"], 1, 2);
        check(&["11110", "10101", "11011", "10101", "11111"], 1, 5);
    }

    #[test]
    fn an_island_in_a_hole_is_a_polygon_of_its_own() {
        check(&["11111", "10001", "10101", "10001", "11111"], 2, 1);
    }

    #[test]
    fn labels_of_any_size_keep_their_number() {
        let frame = Frame::new(3, 1, (0.0, 1.0), (1.0, 1.0)).unwrap();
        let outlines = outlines(&frame, &[u32::MAX, 0, 7]).unwrap();
        assert_eq!(outlines.keys().copied().collect::<Vec<_>>(), [7, u32::MAX]);
    }

    #[test]
    fn labels_must_fit_the_frame() {
        let frame = Frame::new(3, 1, (0.0, 1.0), (1.0, 1.0)).unwrap();
        assert_eq!(outlines(&frame, &[1]), Err(GeodataError::ValueCount { found: 1, expected: 3 }));
    }

    #[test]
    fn scattered_cells_are_traced_validly_and_alike_every_time() {
        let mut state = 42_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state >> 30
        };
        let frame = Frame::new(40, 30, (500_000.0, 4_800_000.0), (2.0, 2.0)).unwrap();
        let labels: Vec<u32> = (0..frame.len()).map(|_| next()).collect();
        let first = outlines(&frame, &labels).unwrap();
        assert!(first.values().all(Validation::is_valid));
        assert_eq!(first, outlines(&frame, &labels).unwrap());
    }
}
