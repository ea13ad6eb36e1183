//! How parcels abut waterways.

use geo::{BoundingRect, Coord, Distance, Euclidean, LineString, MultiLineString, MultiPolygon, Point};
use rayon::prelude::*;
use rstar::{
    AABB, RTree,
    primitives::{GeomWithData, Rectangle},
};

/// One parcel beside one waterway.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Abutting {
    /// Positions in the two lists.
    pub parcel: usize,
    pub waterway: usize,
    /// From the parcel to the nearest bank; 0 where the waterway enters the parcel.
    pub distance_m: f64,
    /// Length of the waterway within `near_m` of the parcel.
    pub length_m: f64,
}

/// A waterway's centre line and its width from bank to bank where known (0 where not).
pub type Bed = (MultiLineString<f64>, f64);

/// Every parcel and waterway whose bank is within `reach_m` of each other, in the order of their positions.
///
/// `length_m` counts the parts of the waterway whose bank is within `near_m`, sampled at every metre.
///
/// *Units*: metres. *Complexity*: O(log n) a look-up plus the length of the waterways near each parcel; parallel.
pub fn frontage(parcels: &[MultiPolygon<f64>], waterways: &[Bed], near_m: f64, reach_m: f64) -> Vec<Abutting> {
    let tree = RTree::bulk_load(
        waterways
            .iter()
            .enumerate()
            .flat_map(|(waterway, (lines, width))| pieces(lines).map(move |piece| (piece, waterway, width / 2.0)))
            .filter_map(|(piece, waterway, half)| {
                let bounds = piece.bounding_rect()?;
                let (low, high) = (bounds.min(), bounds.max());
                let corners = Rectangle::from_corners([low.x - half, low.y - half], [high.x + half, high.y + half]);
                Some(GeomWithData::new(corners, (waterway, piece)))
            })
            .collect::<Vec<_>>(),
    );
    parcels
        .par_iter()
        .enumerate()
        .flat_map_iter(|(parcel, polygon)| {
            let mut near: Vec<(usize, &LineString<f64>)> = polygon.bounding_rect().map_or_else(Vec::new, |bounds| {
                let low = [bounds.min().x - reach_m, bounds.min().y - reach_m];
                let high = [bounds.max().x + reach_m, bounds.max().y + reach_m];
                tree.locate_in_envelope_intersecting(AABB::from_corners(low, high))
                    .map(|found| (found.data.0, &found.data.1))
                    .collect()
            });
            near.sort_by_key(|&(waterway, _)| waterway);
            near.chunk_by(|a, b| a.0 == b.0)
                .filter_map(|group| abutting(parcel, polygon, group, waterways, (near_m, reach_m)))
                .collect::<Vec<_>>()
        })
        .collect()
}

fn pieces(lines: &MultiLineString<f64>) -> impl Iterator<Item = LineString<f64>> + '_ {
    lines.iter().flat_map(LineString::lines).map(|edge| LineString::new(vec![edge.start, edge.end]))
}

fn abutting(
    parcel: usize,
    polygon: &MultiPolygon<f64>,
    group: &[(usize, &LineString<f64>)],
    waterways: &[Bed],
    (near_m, reach_m): (f64, f64),
) -> Option<Abutting> {
    let waterway = group[0].0;
    let half_width = waterways[waterway].1 / 2.0;
    let to_bank = |distance: f64| (distance - half_width).max(0.0);
    let nearest = group.iter().map(|(_, piece)| Euclidean.distance(*piece, polygon)).fold(f64::INFINITY, f64::min);
    let distance_m = to_bank(nearest);
    (distance_m <= reach_m).then(|| Abutting {
        parcel,
        waterway,
        distance_m,
        length_m: group.iter().map(|(_, piece)| length_near(piece, polygon, near_m + half_width)).sum(),
    })
}

/// Length of a straight piece within a distance of a polygon.
fn length_near(piece: &LineString<f64>, polygon: &MultiPolygon<f64>, distance: f64) -> f64 {
    let [start, end] = piece.0[..] else { return 0.0 };
    let along: Coord<f64> = end - start;
    let length = along.x.hypot(along.y);
    let samples = length.ceil().max(1.0);
    let near = (0..samples as usize)
        .map(|sample| start + along * ((sample as f64 + 0.5) / samples))
        .filter(|&point| Euclidean.distance(&Point::from(point), polygon) <= distance)
        .count();
    length * near as f64 / samples
}

#[cfg(test)]
mod tests {
    use geo_types::Rect;

    use super::*;

    fn check(line: &[(f64, f64)], width: f64, expected: Option<(f64, f64)>) {
        let parcel: MultiPolygon<f64> = Rect::new((0.0, 0.0), (100.0, 100.0)).to_polygon().into();
        let bed = (MultiLineString::new(vec![LineString::from(line.to_vec())]), width);
        let found = frontage(&[parcel], &[bed], 2.0, 4.0);
        let measured = found.first().map(|found| (found.distance_m, found.length_m));
        match (measured, expected) {
            (Some((distance, length)), Some((expected_distance, expected_length))) => {
                assert!((distance - expected_distance).abs() < 1e-9, "distance {distance}");
                assert!((length - expected_length).abs() <= 1.0, "length {length}");
            }
            (found, expected) => assert_eq!(found, expected),
        }
    }

    #[test]
    fn distance_and_length_along_a_parcel() {
        check(&[(50.0, -50.0), (50.0, 150.0)], 0.0, Some((0.0, 104.0)));
        check(&[(101.0, 0.0), (101.0, 100.0)], 0.0, Some((1.0, 100.0)));
        check(&[(103.0, 0.0), (103.0, 100.0)], 0.0, Some((3.0, 0.0)));
        check(&[(103.0, 0.0), (103.0, 100.0)], 4.0, Some((1.0, 100.0)));
        check(&[(105.0, 0.0), (105.0, 100.0)], 0.0, None);
    }
}
