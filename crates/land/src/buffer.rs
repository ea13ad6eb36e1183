//! Strips along waterways, from the top of bank, by parcel.

use fallwright_units::ParcelIx;
use geo::algorithm::buffer::{BufferStyle, LineCap, LineJoin};
use geo::{
    Area, BooleanOps, BoundingRect, Buffer, Euclidean, Length, LineString, MapCoords, MultiPolygon, Polygon,
    Validation, coord,
};
use rayon::prelude::*;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use typed_index_collections::TiSlice;

use crate::between::SLIVER_M;
use crate::{Bed, BedIx};

/// The part of a waterway's strip that lies on one parcel.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    pub parcel: ParcelIx,
    pub bed: BedIx,
    pub shape: MultiPolygon<f64>,
}

/// Land of every parcel within `width_m` of the banks of each waterway, the bed between the banks left out; in the order of
/// waterways and parcels. Where a waterway's width is not known (0), from its centre line.
///
/// Of a lake or a wide river that is mapped as a polygon the strip lies along its shores.
///
/// The strip ends square where the waterway's line ends.
///
/// *Units*: metres. *Complexity*: O(log p) a waterway for p parcels, plus the overlay with each parcel near it; parallel.
pub fn strips(parcels: &TiSlice<ParcelIx, MultiPolygon<f64>>, beds: &TiSlice<BedIx, Bed>, width_m: f64) -> Vec<Strip> {
    let boxes = parcels.iter_enumerated().filter_map(|(parcel, polygon)| {
        let bounds = polygon.bounding_rect()?;
        let corners = [bounds.min(), bounds.max()].map(|corner| [corner.x, corner.y]);
        Some(GeomWithData::new(Rectangle::from_corners(corners[0], corners[1]), parcel))
    });
    let tree = RTree::bulk_load(boxes.collect());
    let on_parcels = |(position, bed): (usize, &Bed)| {
        let strip = strip(bed, width_m);
        let Some(bounds) = strip.bounding_rect() else { return Vec::new() };
        let near = AABB::from_corners([bounds.min().x, bounds.min().y], [bounds.max().x, bounds.max().y]);
        let mut near: Vec<ParcelIx> = tree.locate_in_envelope_intersecting(near).map(|found| found.data).collect();
        near.sort_unstable();
        let shape = |parcel: ParcelIx| without_slivers(parcels[parcel].intersection(&strip));
        let on_parcel = |parcel: ParcelIx| Strip { parcel, bed: BedIx(position), shape: shape(parcel) };
        near.into_iter().map(on_parcel).filter(|strip| !strip.shape.0.is_empty()).collect()
    };
    beds.raw.par_iter().enumerate().flat_map_iter(on_parcels).collect()
}

/// A shape without the parts, the holes and the necks that are narrower than [`SLIVER_M`]: they are effects of rounding, and
/// where coordinates are rounded again rings would cross there.
fn without_slivers(shape: MultiPolygon<f64>) -> MultiPolygon<f64> {
    let shape = without_thin_rings(shape);
    if to_millimetres(&shape).is_valid() { shape } else { without_thin_rings(opened(&shape)) }
}

fn without_thin_rings(shape: MultiPolygon<f64>) -> MultiPolygon<f64> {
    let has_width = |ring: &LineString<f64>| {
        let area_m2 = Polygon::new(ring.clone(), Vec::new()).unsigned_area();
        area_m2 > SLIVER_M * Euclidean.length(ring) / 2.0
    };
    let parts = shape.into_iter().map(Polygon::into_inner).filter(|(exterior, _)| has_width(exterior));
    parts.map(|(exterior, holes)| Polygon::new(exterior, holes.into_iter().filter(has_width).collect())).collect()
}

fn to_millimetres(shape: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let rounded = |metres: f64| (metres * 1000.0).round() / 1000.0;
    shape.map_coords(|at| coord! { x: rounded(at.x), y: rounded(at.y) })
}

/// Drawn in from all sides by half of [`SLIVER_M`] and out again by a little less, so that what a neck held together stays
/// apart.
fn opened(shape: &MultiPolygon<f64>) -> MultiPolygon<f64> {
    let moved = |shape: &MultiPolygon<f64>, metres: f64| {
        shape.buffer_with_style(BufferStyle::new(metres).line_join(LineJoin::Miter(SHARPEST_CORNER)))
    };
    moved(&moved(shape, -0.5 * SLIVER_M), 0.4 * SLIVER_M)
}

/// Corners with a smaller angle are cut off, in radians (our choice).
const SHARPEST_CORNER: f64 = 0.05;

fn strip(bed: &Bed, width_m: f64) -> MultiPolygon<f64> {
    let (lines, bed_m) = match bed {
        Bed::Line { lines, width_m } => (lines, width_m),
        Bed::Water(shape) => {
            let style = BufferStyle::new(width_m).line_join(LineJoin::Round(ARC_STEP));
            return shape.buffer_with_style(style).difference(shape);
        }
    };
    let within = |metres: f64, cap| {
        lines.buffer_with_style(BufferStyle::new(metres).line_cap(cap).line_join(LineJoin::Round(ARC_STEP)))
    };
    let half = bed_m / 2.0;
    let outer = within(half + width_m, LineCap::Butt);
    // The bed reaches past the end of the line, so that nothing is left of the strip across it.
    if half > 0.0 { outer.difference(&within(half, LineCap::Square)) } else { outer }
}

/// How finely bends are rounded: the ratio of a step to the radius (our choice: areas are off by less than 0.1 %).
const ARC_STEP: f64 = 0.1;

#[cfg(test)]
mod tests {
    use geo::{MultiLineString, polygon};
    use typed_index_collections::{TiVec, ti_vec};

    use super::*;

    fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon<f64> {
        polygon![(x: west, y: south), (x: east, y: south), (x: east, y: north), (x: west, y: north)].into()
    }

    /// A straight drain along x = 50 from y = 0 to y = 100; parcels west of it and east of it.
    fn check(bed_m: f64, width_m: f64, expected: &[(usize, f64)]) {
        let drain = MultiLineString::new(vec![LineString::from(vec![(50.0, 100.0), (50.0, 0.0)])]);
        let parcels =
            [rectangle(0.0, 0.0, 48.0, 80.0), rectangle(48.0, 0.0, 90.0, 100.0), rectangle(90.0, 0.0, 99.0, 9.0)];
        let bed = Bed::Line { lines: drain, width_m: bed_m };
        let found: Vec<(usize, f64)> = strips(TiSlice::from_ref(&parcels), TiSlice::from_ref(&[bed]), width_m)
            .iter()
            .map(|strip| (strip.parcel.into(), (strip.shape.unsigned_area() * 1e6).round() / 1e6))
            .collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_strip_begins_at_the_top_of_bank() {
        // Banks at 47 and 53: 3 m on each side, 44 to 47 and 53 to 56.
        check(6.0, 3.0, &[(0, 3.0 * 80.0), (1, 3.0 * 100.0)]);
        // Banks at 49 and 51: 46 to 49, of which the western parcel has 46 to 48.
        check(2.0, 3.0, &[(0, 2.0 * 80.0), (1, 4.0 * 100.0)]);
    }

    #[test]
    fn nothing_of_the_strip_crosses_the_bed_at_the_end_of_a_slanting_line() {
        let (from, to) = ((10.1, 90.3), (31.7, 20.9));
        let drain = MultiLineString::new(vec![LineString::from(vec![from, to])]);
        let found = strips(
            TiSlice::from_ref(&[rectangle(0.0, 0.0, 99.0, 99.0)]),
            TiSlice::from_ref(&[Bed::Line { lines: drain, width_m: 4.0 }]),
            3.0,
        );
        let length = f64::hypot(to.0 - from.0, to.1 - from.1);
        let around: f64 = found[0].shape.iter().map(|side| Euclidean.length(side.exterior())).sum();
        assert_eq!(found[0].shape.0.len(), 2);
        assert!((around - 2.0 * (2.0 * length + 2.0 * 3.0)).abs() < 1e-6, "{around}");
    }

    /// A strip of 3 m from x = 47; parcels that reach into it by a tenth of a millimetre, by 0 and by 2 cm.
    #[test]
    fn a_sliver_is_no_strip() {
        let drain = MultiLineString::new(vec![LineString::from(vec![(50.0, 100.0), (50.0, 0.0)])]);
        for (east, expected) in [(47.0001, 0), (47.0, 0), (47.02, 1)] {
            let parcels: TiVec<ParcelIx, _> = ti_vec![rectangle(0.0, 0.0, east, 100.0)];
            let beds: TiVec<BedIx, Bed> = ti_vec![Bed::Line { lines: drain.clone(), width_m: 0.0 }];
            assert_eq!(strips(&parcels, &beds, 3.0).len(), expected, "{east}");
        }
    }

    /// Two squares of 10 m that meet in a corner, but for a neck of a tenth of a millimetre.
    #[test]
    fn a_neck_is_cut_through() {
        let neck = 1e-4;
        let shape: MultiPolygon<f64> = polygon![
            (x: 0.0, y: 0.0), (x: 10.0, y: 0.0), (x: 10.0, y: 10.0 - neck), (x: 20.0, y: 10.0), (x: 20.0, y: 20.0),
            (x: 10.0, y: 20.0), (x: 10.0 - neck, y: 10.0), (x: 0.0, y: 10.0)
        ]
        .into();
        let found = without_slivers(shape.clone());
        assert_eq!(found.0.len(), 2);
        // 80 m of sides, each a millimetre farther in.
        assert!((found.unsigned_area() - (shape.unsigned_area() - 0.08)).abs() < 0.01, "{}", found.unsigned_area());
        let square = rectangle(0.0, 0.0, 10.0, 10.0);
        assert_eq!(without_slivers(square.clone()), square);
    }

    #[test]
    fn without_a_width_it_begins_at_the_centre_line() {
        check(0.0, 3.0, &[(0, 80.0), (1, 5.0 * 100.0)]);
        check(0.0, 1.0, &[(1, 2.0 * 100.0)]);
    }
}
