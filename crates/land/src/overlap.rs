//! Parcels that claim the same ground.

use fallwright_units::ParcelIx;
use geo::{Area, BooleanOps, BoundingRect, Euclidean, Length, MultiPolygon};
use geo_types::Rect;
use rayon::prelude::*;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use typed_index_collections::TiSlice;

/// The ground that two parcels both claim.
#[derive(Clone, Debug, PartialEq)]
pub struct Overlap {
    /// The lower position first.
    pub first: ParcelIx,
    pub second: ParcelIx,
    pub square_metres: f64,
    /// Twice the area over the perimeter: for a long strip, its width.
    pub mean_width_m: f64,
}

/// Every pair of parcels that overlap, in the order of their positions.
///
/// *Units*: metres. *Assumptions*: valid polygons. *Complexity*: O(n log n) for the search plus the cost of intersecting
/// neighbours, in parallel.
pub fn overlaps(parcels: &TiSlice<ParcelIx, MultiPolygon<f64>>) -> Vec<Overlap> {
    let boxes: Vec<_> =
        parcels.iter_enumerated().filter_map(|(parcel, polygon)| Some((parcel, polygon.bounding_rect()?))).collect();
    let tree = RTree::bulk_load(
        boxes.iter().map(|&(parcel, bounds)| GeomWithData::new(rectangle(bounds), parcel)).collect::<Vec<_>>(),
    );
    let mut found: Vec<Overlap> = boxes
        .par_iter()
        .flat_map_iter(|&(first, bounds)| {
            tree.locate_in_envelope_intersecting(AABB::from_corners(bounds.min().into(), bounds.max().into()))
                .map(|other| other.data)
                .filter(move |&second| second > first)
                .filter_map(move |second| overlap(parcels, first, second))
        })
        .collect();
    found.sort_by_key(|overlap| (overlap.first, overlap.second));
    found
}

fn rectangle(bounds: Rect<f64>) -> Rectangle<[f64; 2]> {
    Rectangle::from_corners(bounds.min().into(), bounds.max().into())
}

fn overlap(parcels: &TiSlice<ParcelIx, MultiPolygon<f64>>, first: ParcelIx, second: ParcelIx) -> Option<Overlap> {
    /// Shared boundaries given to the millimetre leave crumbs of this size (our choice).
    const CRUMB_SQUARE_METRES: f64 = 0.1;
    let common = parcels[first].intersection(&parcels[second]);
    let square_metres = common.unsigned_area();
    (square_metres > CRUMB_SQUARE_METRES).then(|| Overlap {
        first,
        second,
        square_metres,
        mean_width_m: mean_width(&common),
    })
}

/// Twice the area over the perimeter; 0 for nothing.
pub fn mean_width(polygon: &MultiPolygon<f64>) -> f64 {
    let perimeter: f64 = polygon
        .iter()
        .flat_map(|part| std::iter::once(part.exterior()).chain(part.interiors()))
        .map(|ring| Euclidean.length(ring))
        .sum();
    if perimeter > 0.0 { 2.0 * polygon.unsigned_area() / perimeter } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(west: f64, side: f64) -> MultiPolygon<f64> {
        Rect::new((west, 0.0), (west + side, side)).to_polygon().into()
    }

    #[test]
    fn overlapping_pairs_are_found_with_area_and_width() {
        let found = overlaps(TiSlice::from_ref(&[
            square(0.0, 100.0),
            square(99.0, 100.0),
            square(199.0, 100.0),
            square(500.0, 10.0),
        ]));
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].first, found[0].second), (ParcelIx(0), ParcelIx(1)));
        assert!((found[0].square_metres - 100.0).abs() < 1e-6);
        // A strip of 1 m by 100 m: 2 · 100 / 202.
        assert!((found[0].mean_width_m - 200.0 / 202.0).abs() < 1e-9);
    }

    #[test]
    fn neighbours_that_only_touch_do_not_overlap() {
        assert!(overlaps(TiSlice::from_ref(&[square(0.0, 100.0), square(100.0, 100.0)])).is_empty());
    }
}
