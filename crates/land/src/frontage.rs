//! How parcels abut waterways.

use fallwright_units::{ParcelIx, position};
use geo::{
    BoundingRect, Closest, ClosestPoint, Contains, Coord, Distance, Euclidean, Intersects, Length, LineString,
    MultiLineString, MultiPoint, MultiPolygon, Point, Polygon,
};
use rayon::prelude::*;
use rstar::{
    AABB, RTree,
    primitives::{GeomWithData, Rectangle},
};
use typed_index_collections::TiSlice;

use crate::cover::rings;
use crate::{Between, LandIndex};

/// One parcel beside one waterway.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Abutting {
    pub parcel: ParcelIx,
    pub bed: BedIx,
    /// From the parcel to the nearest bank; 0 where the waterway enters the parcel.
    pub distance_m: f64,
    /// Length of the waterway, or of the shore of a water, within `near_m` of the parcel, nothing of others' between; touches at
    /// a point left out; of parts of the parcel that lie wholly in a water, the length of their outlines as well.
    pub length_m: f64,
    /// Whether it is near at single points of the parcel only, as where a waterway passes a corner of it. Places of the
    /// parcel within twice `near_m` of one another cannot be distinguished from a point (our choice).
    pub at_a_point: bool,
    /// Land of others that lies between, where nothing but single points of the parcel is open to the waterway.
    pub cut_off_by: Option<Between>,
    /// Lowest height of the waterway along that length; `None` where none is known, or there is no length.
    pub lowest_m: Option<f64>,
}

/// Where a waterway runs.
#[derive(Clone, Debug, PartialEq)]
pub enum Bed {
    /// Along a centre line; the width is from bank to bank, 0 where it is not known.
    Line { lines: MultiLineString<f64>, width_m: f64 },
    /// A lake or a wide river with its shores.
    Water(MultiPolygon<f64>),
}

impl Bed {
    /// The centre line or the shores, those of islands too.
    fn lines(&self) -> Box<dyn Iterator<Item = &LineString<f64>> + '_> {
        match self {
            Self::Line { lines, .. } => Box::new(lines.iter()),
            Self::Water(shape) => Box::new(shape.iter().flat_map(rings)),
        }
    }

    /// From [`Self::lines`] to the bank.
    fn half_width_m(&self) -> f64 {
        match self {
            Self::Line { width_m, .. } => width_m / 2.0,
            Self::Water(_) => 0.0,
        }
    }
}

position!(
    /// A bed's position among those that are asked about.
    BedIx
);

/// Every parcel and waterway whose bank is within `reach_m` of each other, in the order of their positions.
///
/// `length_m` counts the parts of the waterway whose bank is within `near_m`, sampled at every metre. A part from which the
/// nearest place of the parcel lies beyond another's land or a road does not count: a parcel cut off by a strip, however
/// narrow, does not abut (common practice, no source). On a lake or a wide river that is mapped as a polygon the shore is
/// measured in the place of the waterway.
///
/// `height_m` is the height at a place, where it is known.
///
/// *Units*: metres. *Complexity*: O(log n) a look-up plus the length of the waterways near each parcel; parallel.
pub fn frontage(
    lands: &LandIndex,
    beds: &TiSlice<BedIx, Bed>,
    (near_m, reach_m): (f64, f64),
    height_m: impl Fn(Coord<f64>) -> Option<f64> + Sync,
) -> Vec<Abutting> {
    let tree = RTree::bulk_load(
        beds.iter_enumerated()
            .flat_map(|(position, bed)| {
                let half = bed.half_width_m();
                pieces(bed).enumerate().map(move |(number, piece)| (piece, (position, number), half))
            })
            .filter_map(|(piece, place, half)| {
                let bounds = piece.bounding_rect()?;
                let (low, high) = (bounds.min(), bounds.max());
                let corners = Rectangle::from_corners([low.x - half, low.y - half], [high.x + half, high.y + half]);
                Some(GeomWithData::new(corners, (place, piece)))
            })
            .collect::<Vec<_>>(),
    );
    lands
        .parcels
        .raw
        .par_iter()
        .enumerate()
        .flat_map_iter(|(parcel, polygon)| {
            let mut near: Vec<(BedPart, &LineString<f64>)> = polygon.bounding_rect().map_or_else(Vec::new, |bounds| {
                let low = [bounds.min().x - reach_m, bounds.min().y - reach_m];
                let high = [bounds.max().x + reach_m, bounds.max().y + reach_m];
                tree.locate_in_envelope_intersecting(AABB::from_corners(low, high))
                    .map(|found| (found.data.0, &found.data.1))
                    .collect()
            });
            near.sort_by_key(|&(place, _)| place);
            let mut found = near
                .chunk_by(|a, b| a.0.0 == b.0.0)
                .filter_map(|group| {
                    let half_width = beds[group[0].0.0].half_width_m();
                    let within = (near_m + half_width, reach_m + half_width);
                    abutting(lands, ParcelIx(parcel), group, within, half_width, &height_m)
                })
                .collect::<Vec<_>>();
            for (bed, parts) in in_waters(beds, polygon) {
                let in_water = in_water((ParcelIx(parcel), bed), &parts, &height_m);
                match found.binary_search_by_key(&bed, |abutting| abutting.bed) {
                    Ok(place) => found[place] = found[place].with(&in_water),
                    Err(place) => found.insert(place, in_water),
                }
            }
            found
        })
        .collect()
}

/// A waterway's bed, and the number of a straight piece of it.
type BedPart = (BedIx, usize);

fn pieces(bed: &Bed) -> impl Iterator<Item = LineString<f64>> + '_ {
    bed.lines().flat_map(LineString::lines).map(|edge| LineString::new(vec![edge.start, edge.end]))
}

/// The waters that hold a part of a parcel, with those parts.
fn in_waters<'a>(
    beds: &'a TiSlice<BedIx, Bed>,
    polygon: &'a MultiPolygon<f64>,
) -> impl Iterator<Item = (BedIx, Vec<&'a Polygon<f64>>)> + 'a {
    beds.iter_enumerated().filter_map(move |(position, bed)| {
        let Bed::Water(shape) = bed else { return None };
        let bounds = shape.bounding_rect().filter(|bounds| bounds.intersects(polygon))?;
        let holds = |part: &&Polygon<f64>| {
            // The corner first: most parts lie on dry land.
            let corner = part.exterior().0.first();
            corner.is_some_and(|corner| bounds.intersects(corner) && shape.intersects(corner)) && shape.contains(*part)
        };
        let parts: Vec<&Polygon<f64>> = polygon.iter().filter(holds).collect();
        (!parts.is_empty()).then_some((position, parts))
    })
}

/// The parts of a parcel that lie wholly in a water: the length is that of their outlines.
fn in_water(
    (parcel, bed): (ParcelIx, BedIx),
    parts: &[&Polygon<f64>],
    height_m: &impl Fn(Coord<f64>) -> Option<f64>,
) -> Abutting {
    let outlines = || parts.iter().map(|part| part.exterior());
    let heights = outlines().flat_map(LineString::coords).filter_map(|&corner| height_m(corner));
    Abutting {
        parcel,
        bed,
        distance_m: 0.0,
        length_m: outlines().map(|ring| Euclidean.length(ring)).sum(),
        at_a_point: false,
        cut_off_by: None,
        lowest_m: heights.min_by(f64::total_cmp),
    }
}

impl Abutting {
    /// The frontage of the parcel's other parts and of those that lie in the water.
    fn with(&self, in_water: &Self) -> Self {
        let lowest_m = self.lowest_m.into_iter().chain(in_water.lowest_m).min_by(f64::total_cmp);
        Self { length_m: self.length_m + in_water.length_m, lowest_m, ..*in_water }
    }
}

/// `near_m` and `reach_m` are from the centre line.
fn abutting(
    lands: &LandIndex,
    parcel: ParcelIx,
    group: &[(BedPart, &LineString<f64>)],
    (near_m, reach_m): (f64, f64),
    half_width: f64,
    height_m: &impl Fn(Coord<f64>) -> Option<f64>,
) -> Option<Abutting> {
    let polygon = &lands.parcels[parcel];
    let nearest = group.iter().map(|(_, piece)| Euclidean.distance(*piece, polygon)).fold(f64::INFINITY, f64::min);
    if nearest > reach_m {
        return None;
    }
    let beside: Vec<Beside> = group.iter().flat_map(|(_, piece)| beside(piece, polygon, reach_m)).collect();
    let between = |place: &Beside| lands.between(parcel, place.shore, place.water);
    let is_open = |place: &Beside| place.distance_m <= near_m && between(place).is_none();
    let open: Vec<bool> = beside.iter().map(is_open).collect();
    let point_m = 2.0 * (near_m - half_width);
    let frontage: Vec<&Beside> = open_runs(&beside, &open).filter(|run| extent(run) > point_m).flatten().collect();
    let length_m = frontage.iter().map(|place| place.length_m).sum();
    let heights = frontage.iter().filter_map(|place| height_m(place.water));
    let closest = beside.iter().min_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    let closed = || beside.iter().zip(&open).filter(|(place, open)| !**open && place.distance_m <= near_m);
    let nearest_closed = closed().map(|(place, _)| place).min_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
    let none_open = length_m == 0.0;
    let cut_off_by = nearest_closed.or(closest).filter(|_| none_open).and_then(between);
    Some(Abutting {
        parcel,
        bed: group[0].0.0,
        distance_m: (nearest - half_width).max(0.0),
        length_m,
        at_a_point: none_open && cut_off_by.is_none() && nearest <= near_m,
        cut_off_by,
        lowest_m: heights.min_by(f64::total_cmp),
    })
}

/// Stretches that follow one another and are open.
fn open_runs<'b>(beside: &'b [Beside], open: &'b [bool]) -> impl Iterator<Item = &'b [Beside]> {
    /// Stretches farther apart than this do not follow one another; they are about a metre long.
    const APART_M: f64 = 2.0;
    let mut from = 0;
    let follows = |a: &Beside, b: &Beside| (b.water.x - a.water.x).hypot(b.water.y - a.water.y) <= APART_M;
    let ends = (1..=beside.len())
        .filter(move |&at| at == beside.len() || open[at] != open[at - 1] || !follows(&beside[at - 1], &beside[at]));
    let runs = ends.map(move |to| (std::mem::replace(&mut from, to), to));
    runs.filter(|&(from, _)| open[from]).map(|(from, to)| &beside[from..to])
}

/// A short stretch of a waterway near a parcel.
struct Beside {
    water: Coord<f64>,
    /// The nearest place of the parcel.
    shore: Coord<f64>,
    distance_m: f64,
    length_m: f64,
}

/// The stretches of a straight piece within a distance of a polygon, about a metre each.
fn beside(piece: &LineString<f64>, polygon: &MultiPolygon<f64>, within_m: f64) -> Vec<Beside> {
    let [start, end] = piece.0[..] else { return Vec::new() };
    let along: Coord<f64> = end - start;
    let length = along.x.hypot(along.y);
    let samples = length.ceil().max(1.0);
    let places = (0..samples as usize).filter_map(|sample| {
        let water = start + along * ((sample as f64 + 0.5) / samples);
        let (Closest::Intersection(shore) | Closest::SinglePoint(shore)) = polygon.closest_point(&water.into()) else {
            return None;
        };
        let distance_m = (shore.x() - water.x).hypot(shore.y() - water.y);
        Some(Beside { water, shore: shore.into(), distance_m, length_m: length / samples })
    });
    places.filter(|place| place.distance_m <= within_m).collect()
}

/// The diagonal of the box around the nearest places of the parcel.
fn extent(run: &[Beside]) -> f64 {
    let shore = MultiPoint::new(run.iter().map(|place| Point::from(place.shore)).collect());
    shore.bounding_rect().map_or(0.0, |bounds| bounds.width().hypot(bounds.height()))
}

#[cfg(test)]
mod tests {
    use fallwright_units::RoadIx;
    use geo_types::Rect;
    use typed_index_collections::TiVec;

    use super::*;
    use crate::LandBetween;

    fn lot(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon<f64> {
        Rect::new((west, south), (east, north)).to_polygon().into()
    }

    /// The parcel is the first of the lots.
    fn measured(
        lots: &[MultiPolygon<f64>],
        roads: &[MultiPolygon<f64>],
        line: &[(f64, f64)],
        width: f64,
    ) -> Option<Abutting> {
        let lines = MultiLineString::new(vec![LineString::from(line.to_vec())]);
        let bed = Bed::Line { lines, width_m: width };
        measured_on(lots, roads, bed)
    }

    fn measured_on(lots: &[MultiPolygon<f64>], roads: &[MultiPolygon<f64>], bed: Bed) -> Option<Abutting> {
        let holdings: TiVec<ParcelIx, usize> = (0..lots.len()).collect();
        let lands = LandIndex::new(TiSlice::from_ref(lots), TiSlice::from_ref(roads), &holdings);
        // The ground rises by 1 m in 100 m toward the north-east.
        let height_m = |place: Coord<f64>| Some((place.x + place.y) / 100.0);
        let found = frontage(&lands, TiSlice::from_ref(&[bed]), (2.0, 4.0), height_m);
        found.into_iter().find(|found| found.parcel == ParcelIx(0))
    }

    fn check(line: &[(f64, f64)], width: f64, expected: Option<(f64, f64)>) {
        let found = measured(&[lot(0.0, 0.0, 100.0, 100.0)], &[], line, width);
        match (found.map(|found| (found.distance_m, found.length_m)), expected) {
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

    #[test]
    fn the_lowest_height_is_that_of_the_frontage_alone() {
        let lots = [lot(0.0, 0.0, 100.0, 100.0)];
        let lowest = |line: &[(f64, f64)]| measured(&lots, &[], line, 0.0).unwrap().lowest_m;
        // From 2 m south of the parcel on, sampled at every metre.
        assert!((lowest(&[(50.0, -50.0), (50.0, 150.0)]).unwrap() - 0.485).abs() < 1e-9);
        assert!((lowest(&[(101.0, 0.0), (101.0, 100.0)]).unwrap() - 1.015).abs() < 1e-9);
        assert_eq!(lowest(&[(103.0, 0.0), (103.0, 100.0)]), None);
    }

    #[test]
    fn a_strip_in_between_leaves_no_frontage() {
        let (own, creek) = (lot(0.0, 0.0, 100.0, 100.0), [(101.5, 0.0), (101.5, 100.0)]);
        let strip = lot(100.0, 0.0, 101.0, 100.0);
        let by_parcel = measured(&[own.clone(), strip.clone()], &[], &creek, 0.0).unwrap();
        assert_eq!(
            (by_parcel.length_m, by_parcel.cut_off_by.map(|by| by.land)),
            (0.0, Some(LandBetween::Parcel(ParcelIx(1))))
        );
        let by_road = measured(&[own], &[strip], &creek, 0.0).unwrap();
        assert_eq!((by_road.length_m, by_road.cut_off_by.map(|by| by.land)), (0.0, Some(LandBetween::Road(RoadIx(0)))));
    }

    #[test]
    fn the_ends_of_a_strip_are_no_frontage() {
        let lots = [lot(1.5, 20.0, 100.0, 100.0), lot(0.0, 20.0, 1.5, 100.0)];
        let found = measured(&lots, &[], &[(0.0, 0.0), (0.0, 120.0)], 0.0).unwrap();
        assert_eq!((found.length_m, found.at_a_point), (0.0, false));
        assert_eq!(found.cut_off_by.map(|by| by.land), Some(LandBetween::Parcel(ParcelIx(1))));
    }

    #[test]
    fn a_strip_along_half_of_the_bank_leaves_the_other_half() {
        let lots = [lot(0.0, 0.0, 100.0, 100.0), lot(100.0, 0.0, 101.0, 50.0)];
        let found = measured(&lots, &[], &[(101.0, 0.0), (101.0, 100.0)], 0.0).unwrap();
        assert!((found.length_m - 50.0).abs() <= 2.0, "{}", found.length_m);
        assert_eq!(found.cut_off_by, None);
    }

    #[test]
    fn a_waterway_along_a_lot_line_abuts_both_sides() {
        let (west, east) = (lot(0.0, 0.0, 100.0, 100.0), lot(100.0, 0.0, 200.0, 100.0));
        for offset in [-1.0, 0.0, 1.0] {
            let creek = [(100.0 + offset, 0.0), (100.0 + offset, 100.0)];
            for lots in [[west.clone(), east.clone()], [east.clone(), west.clone()]] {
                let found = measured(&lots, &[], &creek, 0.0).unwrap();
                assert!((found.length_m - 100.0).abs() <= 1.0 && found.cut_off_by.is_none() && !found.at_a_point);
            }
        }
    }

    /// Lengths of shore by hand: within 2 m of the parcel, so 2 m more at each end along a straight shore.
    #[test]
    fn frontage_on_a_lake_is_measured_along_its_shore() {
        let own = lot(0.0, 0.0, 100.0, 100.0);
        let check = |lake: MultiPolygon<f64>, others: &[MultiPolygon<f64>], expected: Option<(f64, f64)>| {
            let lots = [std::slice::from_ref(&own), others].concat();
            let found = measured_on(&lots, &[], Bed::Water(lake)).map(|found| (found.distance_m, found.length_m));
            let (Some((distance, length)), Some(wanted)) = (found, expected) else {
                assert_eq!(found, expected);
                return;
            };
            assert!((distance - wanted.0).abs() < 1e-9 && (length - wanted.1).abs() <= 2.0, "{distance} {length}");
        };
        // East of the parcel, along 60 m of its line.
        check(lot(100.0, 20.0, 300.0, 80.0), &[], Some((0.0, 64.0)));
        check(lot(101.0, 20.0, 300.0, 80.0), &[], Some((1.0, 62.0)));
        check(lot(103.0, 20.0, 300.0, 80.0), &[], Some((3.0, 0.0)));
        check(lot(105.0, 20.0, 300.0, 80.0), &[], None);
        // It reaches 30 m into the parcel: 60 m and twice 32 m of shore.
        check(lot(70.0, 20.0, 300.0, 80.0), &[], Some((0.0, 124.0)));
        // A strip of another's along all the shore, and along half of it.
        check(lot(101.0, 20.0, 300.0, 80.0), &[lot(100.0, 0.0, 101.0, 100.0)], Some((1.0, 0.0)));
        check(lot(101.0, 20.0, 300.0, 80.0), &[lot(100.0, 0.0, 101.0, 50.0)], Some((1.0, 31.0)));
        // A pond in the parcel, and a parcel in the water.
        check(lot(40.0, 40.0, 60.0, 60.0), &[], Some((0.0, 80.0)));
        check(lot(-50.0, -50.0, 150.0, 150.0), &[], Some((0.0, 400.0)));
    }

    /// The outline of the part that lies in the water, 160 m, whatever the order of the parts; the other part is dry.
    #[test]
    fn a_part_of_a_parcel_in_a_lake_has_its_outline_for_frontage() {
        let (wet, dry) = (lot(230.0, 30.0, 270.0, 70.0), lot(0.0, 0.0, 100.0, 100.0));
        for parts in [[wet.clone(), dry.clone()], [dry, wet]] {
            let parcel = MultiPolygon::new(parts.into_iter().flatten().collect());
            let found = measured_on(&[parcel], &[], Bed::Water(lot(200.0, 0.0, 300.0, 100.0))).unwrap();
            assert_eq!((found.distance_m, found.length_m), (0.0, 160.0));
        }
    }

    #[test]
    fn a_touch_at_a_corner_is_a_point() {
        let lots = [lot(0.0, 0.0, 100.0, 100.0), lot(100.0, 0.0, 200.0, 100.0), lot(0.0, 100.0, 100.0, 200.0)];
        let past_the_corner = measured(&lots, &[], &[(50.0, 150.0), (150.0, 50.0)], 0.0).unwrap();
        assert!(past_the_corner.at_a_point && past_the_corner.distance_m < 1e-9);
        let head_at_the_line = measured(&lots, &[], &[(100.0, 50.0), (180.0, 50.0)], 0.0).unwrap();
        assert!(head_at_the_line.at_a_point);
        let across_the_corner = measured(&lots, &[], &[(50.0, 145.0), (145.0, 50.0)], 0.0).unwrap();
        assert!(!across_the_corner.at_a_point);
    }
}
