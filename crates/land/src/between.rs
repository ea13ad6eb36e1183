//! What lies between a parcel and water: others' land that cuts it off.

use fallwright_units::{ParcelIx, RoadIx};
use geo::{
    BooleanOps, BoundingRect, Contains, Coord, Euclidean, Length, LineString, MultiLineString, MultiPolygon, Point,
};
use rstar::{
    AABB, RTree,
    primitives::{GeomWithData, Rectangle},
};
use typed_index_collections::TiSlice;

/// Land that somebody owns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LandBetween {
    Parcel(ParcelIx),
    Road(RoadIx),
}

/// Land of others between a parcel and water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Between {
    pub land: LandBetween,
    /// Across, from the parcel toward the water.
    pub width_m: f64,
}

/// All parcels and roads, found by place.
pub struct LandIndex<'a> {
    pub(crate) parcels: &'a TiSlice<ParcelIx, MultiPolygon<f64>>,
    roads: &'a TiSlice<RoadIx, MultiPolygon<f64>>,
    holdings: &'a TiSlice<ParcelIx, usize>,
    tree: RTree<GeomWithData<Rectangle<[f64; 2]>, LandBetween>>,
}

impl<'a> LandIndex<'a> {
    /// `holdings` numbers the owner of each parcel; parcels with the same number are one owner's.
    ///
    /// *Complexity*: O(n log n).
    pub fn new(
        parcels: &'a TiSlice<ParcelIx, MultiPolygon<f64>>,
        roads: &'a TiSlice<RoadIx, MultiPolygon<f64>>,
        holdings: &'a TiSlice<ParcelIx, usize>,
    ) -> Self {
        let bounded = |(land, shape): (LandBetween, &MultiPolygon<f64>)| {
            let bounds = shape.bounding_rect()?;
            let corners = Rectangle::from_corners(bounds.min().into(), bounds.max().into());
            Some(GeomWithData::new(corners, land))
        };
        let all = parcels.iter_enumerated().map(|(position, shape)| (LandBetween::Parcel(position), shape));
        let all = all.chain(roads.iter_enumerated().map(|(position, shape)| (LandBetween::Road(position), shape)));
        Self { parcels, roads, holdings, tree: RTree::bulk_load(all.filter_map(bounded).collect()) }
    }

    /// The widest land of others that lies between a point of a parcel's boundary and a point in the water.
    ///
    /// Land that goes on beyond the water, at least half as far as it lies between, is the land through which the water
    /// runs and not between (our choice). Land of the parcel's own holder does not count.
    ///
    /// *Complexity*: O(log n) plus the edges of the lands near by.
    pub fn between(&self, parcel: ParcelIx, shore: Coord<f64>, water: Coord<f64>) -> Option<Between> {
        let low = [shore.x.min(water.x), shore.y.min(water.y)];
        let high = [shore.x.max(water.x), shore.y.max(water.y)];
        let way = MultiLineString::new(vec![LineString::new(vec![shore, water])]);
        let width = |land: LandBetween| {
            let shape = self.shape(land);
            let width_m = Euclidean.length(&shape.clip(&way, false));
            let beyond = water + (water - shore) * (width_m / 2.0 / (water - shore).x.hypot((water - shore).y));
            (width_m > SLIVER_M && !shape.contains(&Point::from(beyond))).then_some(Between { land, width_m })
        };
        let near = self.tree.locate_in_envelope_intersecting(AABB::from_corners(low, high)).map(|found| found.data);
        let others = near.filter(|&land| !self.is_own(parcel, land));
        let wider = |a: &Between, b: &Between| a.width_m.total_cmp(&b.width_m).then(b.land.cmp(&a.land));
        if shore == water { None } else { others.filter_map(width).max_by(wider) }
    }

    fn is_own(&self, parcel: ParcelIx, land: LandBetween) -> bool {
        matches!(land, LandBetween::Parcel(other) if self.holdings[other] == self.holdings[parcel])
    }

    fn shape(&self, land: LandBetween) -> &MultiPolygon<f64> {
        match land {
            LandBetween::Parcel(position) => &self.parcels[position],
            LandBetween::Road(position) => &self.roads[position],
        }
    }
}

/// Land narrower than this is an effect of rounding.
pub(crate) const SLIVER_M: f64 = 0.01;

#[cfg(test)]
mod tests {
    use geo_types::Rect;
    use typed_index_collections::TiVec;

    use super::*;

    fn strip(west: f64, east: f64) -> MultiPolygon<f64> {
        Rect::new((west, 0.0), (east, 100.0)).to_polygon().into()
    }

    /// The parcel lies from 0 to 100 m east; what lies between its east line and water at `water` m.
    fn check(others: &[(f64, f64)], roads: &[(f64, f64)], water: f64, expected: Option<(LandBetween, f64)>) {
        let parcels: TiVec<ParcelIx, _> =
            [(0.0, 100.0)].iter().chain(others).map(|&(west, east)| strip(west, east)).collect();
        let roads: TiVec<RoadIx, _> = roads.iter().map(|&(west, east)| strip(west, east)).collect();
        let holdings: TiVec<ParcelIx, usize> = (0..parcels.len()).collect();
        let lands = LandIndex::new(&parcels, &roads, &holdings);
        let found = lands.between(ParcelIx(0), Coord { x: 100.0, y: 50.0 }, Coord { x: water, y: 50.0 });
        let found = found.map(|between| (between.land, (between.width_m * 1e6).round() / 1e6));
        assert_eq!(found, expected);
    }

    #[test]
    fn a_strip_between_cuts_off() {
        check(&[(100.0, 101.0)], &[], 101.5, Some((LandBetween::Parcel(ParcelIx(1)), 1.0)));
        check(&[(100.0, 101.0)], &[], 101.0, Some((LandBetween::Parcel(ParcelIx(1)), 1.0)));
        check(&[], &[(100.0, 101.5)], 101.7, Some((LandBetween::Road(RoadIx(0)), 1.5)));
        check(&[(100.0, 100.3), (100.3, 101.0)], &[], 101.0, Some((LandBetween::Parcel(ParcelIx(2)), 0.7)));
    }

    #[test]
    fn land_that_the_water_runs_through_is_not_between() {
        check(&[(100.0, 200.0)], &[], 101.5, None);
        check(&[], &[(100.0, 120.0)], 101.0, None);
        check(&[(100.0, 103.0)], &[], 101.5, None);
    }

    #[test]
    fn nothing_between_unowned_ground_and_a_line_on_the_parcel() {
        check(&[], &[], 101.5, None);
        check(&[(100.0, 200.0)], &[], 100.0, None);
    }

    #[test]
    fn the_holders_own_strip_is_not_anothers() {
        let parcels = TiVec::from(vec![strip(0.0, 100.0), strip(100.0, 101.0)]);
        let lands = LandIndex::new(&parcels, TiSlice::from_ref(&[]), TiSlice::from_ref(&[7, 7]));
        assert_eq!(lands.between(ParcelIx(0), Coord { x: 100.0, y: 50.0 }, Coord { x: 101.0, y: 50.0 }), None);
    }
}
