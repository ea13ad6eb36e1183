//! Which of many areas and lines a path meets, and over which of its stretches; how much of each lies in an area.

use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Area, BooleanOps, BoundingRect, Coord, Line, LineString, LinesIter, MultiLineString, MultiPolygon, Point};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree, RTreeObject};

/// An area or a line.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    Area(MultiPolygon<f64>),
    Line(MultiLineString<f64>),
}

/// A stretch of a path, metres from its start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    pub from_m: f64,
    pub to_m: f64,
}

impl Stretch {
    pub fn length_m(self) -> f64 {
        self.to_m - self.from_m
    }

    pub fn middle_m(self) -> f64 {
        f64::midpoint(self.from_m, self.to_m)
    }
}

/// How much of a shape lies in an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Extent {
    SquareMetres(f64),
    /// Of a line.
    Metres(f64),
}

/// Areas and lines, to be asked which of them are met; a shape is named by its position.
pub struct ShapeIndex {
    shapes: Vec<Indexed>,
    /// By bounding box.
    tree: RTree<GeomWithData<Rectangle<Point<f64>>, usize>>,
}

/// A shape with its edges by place.
struct Indexed {
    shape: Shape,
    edges: RTree<Line<f64>>,
}

impl ShapeIndex {
    /// *Complexity*: O(e log e) for e edges of all shapes.
    pub fn new(shapes: impl IntoIterator<Item = Shape>) -> Self {
        let shapes: Vec<Indexed> = shapes.into_iter().map(Indexed::new).collect();
        let boxes = shapes.iter().enumerate().filter_map(|(position, indexed)| {
            let bounds = indexed.bounds()?;
            Some(GeomWithData::new(bounds, position))
        });
        let tree = RTree::bulk_load(boxes.collect());
        Self { shapes, tree }
    }

    pub fn is_empty(&self) -> bool {
        self.shapes.is_empty()
    }

    /// The shapes that a path meets, by position, each with the stretches on it in order: those inside an area, its border
    /// included, or no farther than `within_m` from a line. Stretches have a length; a touch at a point is none.
    ///
    /// *Complexity*: O(s log e) for s segments of the path and e edges of a shape, for each shape whose bounding box meets that of
    /// the path.
    pub fn along(&self, path: &LineString<f64>, within_m: f64) -> Vec<(usize, Vec<Stretch>)> {
        let Some(bounds) = path.bounding_rect() else { return Vec::new() };
        let near = envelope(bounds.min(), bounds.max(), within_m);
        let mut candidates: Vec<usize> =
            self.tree.locate_in_envelope_intersecting(near).map(|found| found.data).collect();
        candidates.sort_unstable();
        let stretches = |position: usize| {
            let found = self.shapes[position].stretches(path, within_m);
            (!found.is_empty()).then_some((position, found))
        };
        candidates.into_iter().filter_map(stretches).collect()
    }

    /// The shapes of which a part lies in an area, by position.
    ///
    /// *Complexity*: O(e log e) for e edges of the area and of the shapes near it.
    pub fn inside(&self, area: &MultiPolygon<f64>) -> Vec<(usize, Extent)> {
        let Some(bounds) = area.bounding_rect() else { return Vec::new() };
        let near = envelope(bounds.min(), bounds.max(), 0.0);
        let mut candidates: Vec<usize> =
            self.tree.locate_in_envelope_intersecting(near).map(|found| found.data).collect();
        candidates.sort_unstable();
        let asked = Indexed::new(Shape::Area(area.clone()));
        let extent = |position: usize| Some((position, self.shapes[position].extent_in(&asked, area)?));
        candidates.into_iter().filter_map(extent).collect()
    }
}

impl Indexed {
    fn new(shape: Shape) -> Self {
        let edges = match &shape {
            Shape::Area(area) => RTree::bulk_load(area.lines_iter().collect()),
            Shape::Line(lines) => RTree::bulk_load(lines.lines_iter().collect()),
        };
        Self { shape, edges }
    }

    fn bounds(&self) -> Option<Rectangle<Point<f64>>> {
        let bounds = match &self.shape {
            Shape::Area(area) => area.bounding_rect(),
            Shape::Line(lines) => lines.bounding_rect(),
        }?;
        Some(Rectangle::from_corners(bounds.min().into(), bounds.max().into()))
    }

    fn stretches(&self, path: &LineString<f64>, within_m: f64) -> Vec<Stretch> {
        match &self.shape {
            Shape::Area(_) => self.inside_stretches(path),
            Shape::Line(_) => self.near_stretches(path, within_m),
        }
    }

    /// Stretches inside the area: the path is cut wherever it meets the border, and each piece is looked at in its middle. What
    /// runs along the border is inside.
    fn inside_stretches(&self, path: &LineString<f64>) -> Vec<Stretch> {
        let mut cuts = vec![0.0];
        let mut found = Vec::new();
        for (segment, start_m) in measured(path) {
            let length = length(segment);
            for edge in self.edges.locate_in_envelope_intersecting(segment.envelope()) {
                let at = |point: Coord<f64>| start_m + length * share_of(segment, point);
                match line_intersection(segment, *edge) {
                    Some(LineIntersection::SinglePoint { intersection, .. }) => cuts.push(at(intersection)),
                    Some(LineIntersection::Collinear { intersection }) => {
                        let (a, b) = (at(intersection.start), at(intersection.end));
                        cuts.extend([a, b]);
                        found.push(Stretch { from_m: a.min(b), to_m: a.max(b) });
                    }
                    None => {}
                }
            }
        }
        cuts.push(measured(path).last().map_or(0.0, |(segment, start_m)| start_m + length(segment)));
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        let middles: Vec<f64> = cuts.windows(2).map(|pair| f64::midpoint(pair[0], pair[1])).collect();
        let pieces = cuts.windows(2).zip(points_at(path, &middles));
        found.extend(
            pieces
                .filter(|(_, middle)| self.encloses(*middle))
                .map(|(pair, _)| Stretch { from_m: pair[0], to_m: pair[1] }),
        );
        joined(found)
    }

    /// Stretches no farther from the lines than a distance.
    fn near_stretches(&self, path: &LineString<f64>, within_m: f64) -> Vec<Stretch> {
        let mut found = Vec::new();
        for (segment, start_m) in measured(path) {
            let length = length(segment);
            let bounds = segment.bounding_rect();
            let near = envelope(bounds.min(), bounds.max(), within_m);
            for edge in self.edges.locate_in_envelope_intersecting(near) {
                if let Some((from, to)) = near_edge(segment, *edge, within_m) {
                    found.push(Stretch { from_m: start_m + length * from, to_m: start_m + length * to });
                }
            }
        }
        joined(found)
    }

    /// Whether a point lies inside the area, by the edges to the east of it that it has north and south of it (even-odd rule).
    fn encloses(&self, point: Coord<f64>) -> bool {
        let east = AABB::from_corners(point.into(), Point::new(f64::MAX, point.y));
        let crossed = |edge: &&Line<f64>| {
            let (a, b) = (edge.start, edge.end);
            let x = || a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x);
            (a.y > point.y) != (b.y > point.y) && x() > point.x
        };
        self.edges.locate_in_envelope_intersecting(east).filter(crossed).count() % 2 == 1
    }

    /// How much of the shape lies in an area; `asked` is the area itself.
    fn extent_in(&self, asked: &Self, area: &MultiPolygon<f64>) -> Option<Extent> {
        let (measure, extent): (f64, fn(f64) -> Extent) = match &self.shape {
            Shape::Area(own) => (own.intersection(area).unsigned_area(), Extent::SquareMetres),
            Shape::Line(own) => {
                let inside = own.iter().flat_map(|line| asked.inside_stretches(line));
                (inside.map(Stretch::length_m).sum(), Extent::Metres)
            }
        };
        (measure > 0.0).then(|| extent(measure))
    }
}

/// The point at each of some distances along a path, which are in order.
pub fn points_at(path: &LineString<f64>, distances_m: &[f64]) -> Vec<Coord<f64>> {
    let mut segments = measured(path).peekable();
    let mut points = Vec::new();
    let mut here = None;
    for &distance_m in distances_m {
        while let Some((segment, start_m)) = segments.next_if(|(_, start_m)| *start_m <= distance_m) {
            here = Some((segment, start_m));
        }
        let Some((segment, start_m)) = here else { continue };
        let share = ((distance_m - start_m) / length(segment)).clamp(0.0, 1.0);
        points.push(segment.start + segment.delta() * share);
    }
    points
}

/// The segments of a path that have a length, each with the metres before it.
fn measured(path: &LineString<f64>) -> impl Iterator<Item = (Line<f64>, f64)> + '_ {
    let segments = path.lines().filter(|segment| segment.start != segment.end);
    segments.scan(0.0, |walked_m, segment| {
        let start_m = *walked_m;
        *walked_m += length(segment);
        Some((segment, start_m))
    })
}

fn length(segment: Line<f64>) -> f64 {
    segment.dx().hypot(segment.dy())
}

/// How far along a segment a point on it lies, from 0 to 1.
fn share_of(segment: Line<f64>, point: Coord<f64>) -> f64 {
    let (along, offset) = (segment.delta(), point - segment.start);
    (dot(along, offset) / dot(along, along)).clamp(0.0, 1.0)
}

/// The part of a segment no farther than a distance from an edge, from 0 to 1 along the segment: what lies in the strip beside
/// the edge, or in the discs round its two ends. All of that is one convex figure, so the part is one stretch.
fn near_edge(segment: Line<f64>, edge: Line<f64>, within_m: f64) -> Option<(f64, f64)> {
    let discs = [edge.start, edge.end].map(|centre| in_disc(segment, centre, within_m));
    let parts = discs.into_iter().chain([beside(segment, edge, within_m)]).flatten();
    let (from, to) = parts.fold((1.0_f64, 0.0_f64), |(from, to), (start, end)| (from.min(start), to.max(end)));
    (from < to).then_some((from, to))
}

/// The part of a segment in a disc.
fn in_disc(segment: Line<f64>, centre: Coord<f64>, radius: f64) -> Option<(f64, f64)> {
    let (along, offset) = (segment.delta(), segment.start - centre);
    let (a, half_b, c) = (dot(along, along), dot(along, offset), dot(offset, offset) - radius * radius);
    let discriminant = half_b * half_b - a * c;
    if discriminant < 0.0 {
        return None;
    }
    let root = discriminant.sqrt();
    on_segment((-half_b - root) / a, (-half_b + root) / a)
}

/// The part of a segment in the strip on both sides of an edge, which ends where the edge does.
fn beside(segment: Line<f64>, edge: Line<f64>, half_width: f64) -> Option<(f64, f64)> {
    let edge_length = length(edge);
    if edge_length == 0.0 {
        return None;
    }
    let along = edge.delta() / edge_length;
    let across = Coord { x: -along.y, y: along.x };
    let offset = segment.start - edge.start;
    let (from, to) = between((dot(offset, along), dot(segment.delta(), along)), (0.0, edge_length))?;
    let (near, far) = between((dot(offset, across), dot(segment.delta(), across)), (-half_width, half_width))?;
    on_segment(from.max(near), to.min(far))
}

/// Where a value that starts somewhere and grows at a rate lies between two limits.
fn between((start, rate): (f64, f64), (low, high): (f64, f64)) -> Option<(f64, f64)> {
    if rate == 0.0 {
        return (low..=high).contains(&start).then_some((f64::NEG_INFINITY, f64::INFINITY));
    }
    let (a, b) = ((low - start) / rate, (high - start) / rate);
    Some((a.min(b), a.max(b)))
}

fn on_segment(from: f64, to: f64) -> Option<(f64, f64)> {
    let (from, to) = (from.max(0.0), to.min(1.0));
    (from < to).then_some((from, to))
}

fn dot(a: Coord<f64>, b: Coord<f64>) -> f64 {
    a.x * b.x + a.y * b.y
}

fn envelope(min: Coord<f64>, max: Coord<f64>, wider_by: f64) -> AABB<Point<f64>> {
    let wider = Coord { x: wider_by, y: wider_by };
    AABB::from_corners((min - wider).into(), (max + wider).into())
}

/// Stretches in order; those that overlap or follow each other are one.
fn joined(mut stretches: Vec<Stretch>) -> Vec<Stretch> {
    /// Gaps that come of rounding, metres: a millionth of a millimetre, far less than any coordinate states.
    const NO_GAP_M: f64 = 1e-9;
    stretches.sort_by(|a, b| a.from_m.total_cmp(&b.from_m));
    let mut joined: Vec<Stretch> = Vec::new();
    for stretch in stretches.into_iter().filter(|stretch| stretch.length_m() > 0.0) {
        match joined.last_mut() {
            Some(last) if stretch.from_m <= last.to_m + NO_GAP_M => last.to_m = last.to_m.max(stretch.to_m),
            _ => joined.push(stretch),
        }
    }
    joined.retain(|stretch| stretch.length_m() > NO_GAP_M);
    joined
}

#[cfg(test)]
mod tests {
    use geo::wkt;
    use proptest::prelude::*;

    use super::*;

    fn area(shape: geo::Polygon<f64>) -> Shape {
        Shape::Area(shape.into())
    }

    fn line(shape: LineString<f64>) -> Shape {
        Shape::Line(MultiLineString::new(vec![shape]))
    }

    /// Stretches of a path on one shape, lines within a distance of 3 m; expected ones worked out by hand.
    #[track_caller]
    fn check(path: &LineString<f64>, shape: Shape, expected: &[(f64, f64)]) {
        let found = ShapeIndex::new([shape]).along(path, 3.0);
        let found: Vec<(f64, f64)> =
            found.into_iter().flat_map(|(_, on)| on).map(|stretch| (stretch.from_m, stretch.to_m)).collect();
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for (found, expected) in found.iter().zip(expected) {
            assert!(
                (found.0 - expected.0).abs() < 1e-6 && (found.1 - expected.1).abs() < 1e-6,
                "{found:?} {expected:?}"
            );
        }
    }

    fn square() -> geo::Polygon<f64> {
        wkt!(POLYGON((10. 0., 20. 0., 20. 10., 10. 10., 10. 0.)))
    }

    #[test]
    fn stretches_inside_an_area() {
        let across = wkt!(LINESTRING(0. 5., 12. 5., 30. 5.));
        check(&across, area(square()), &[(10.0, 20.0)]);
        check(&wkt!(LINESTRING(12. 5., 15. 5.)), area(square()), &[(0.0, 3.0)]);
        check(&wkt!(LINESTRING(0. 5., 9. 5.)), area(square()), &[]);
        // Out and in again: 5 m inside, 20 m outside, 5 m inside.
        check(&wkt!(LINESTRING(15. 5., 15. 20., 18. 20., 18. 5.)), area(square()), &[(0.0, 5.0), (28.0, 33.0)]);
        let with_hole =
            wkt!(POLYGON((10. 0., 20. 0., 20. 10., 10. 10., 10. 0.), (12. 4., 14. 4., 14. 6., 12. 6., 12. 4.)));
        check(&across, area(with_hole), &[(10.0, 12.0), (14.0, 20.0)]);
        // Through two corners: the diagonal.
        check(&wkt!(LINESTRING(0. -10., 30. 20.)), area(square()), &[(200.0_f64.sqrt(), 800.0_f64.sqrt())]);
    }

    #[test]
    fn the_border_is_inside_and_a_touch_is_none() {
        check(&wkt!(LINESTRING(0. 10., 30. 10.)), area(square()), &[(10.0, 20.0)]);
        check(&wkt!(LINESTRING(0. 0., 30. 0.)), area(square()), &[(10.0, 20.0)]);
        check(&wkt!(LINESTRING(20. -5., 20. 5., 25. 5.)), area(square()), &[(5.0, 10.0)]);
        check(&wkt!(LINESTRING(0. 20., 20. 0.)), area(square()), &[(200.0_f64.sqrt(), 800.0_f64.sqrt())]);
        check(&wkt!(LINESTRING(0. 10., 10. 20.)), area(square()), &[]);
        check(&wkt!(LINESTRING(15. 12., 20. 10., 25. 12.)), area(square()), &[]);
        check(&wkt!(LINESTRING(15. 5., 15. 5.)), area(square()), &[]);
    }

    #[test]
    fn stretches_near_a_line() {
        let across = wkt!(LINESTRING(0. 5., 30. 5.));
        check(&across, line(wkt!(LINESTRING(15. -20., 15. 20.))), &[(12.0, 18.0)]);
        // Beside it, 2 m off: the discs at its ends reach sqrt(9 - 4) m farther.
        let reach = 5.0_f64.sqrt();
        check(&across, line(wkt!(LINESTRING(10. 7., 20. 7.))), &[(10.0 - reach, 20.0 + reach)]);
        check(&across, line(wkt!(LINESTRING(10. 9., 20. 9.))), &[]);
        // It ends 1 m before the path.
        check(&across, line(wkt!(LINESTRING(15. 6., 15. 60.))), &[(15.0 - 8.0_f64.sqrt(), 15.0 + 8.0_f64.sqrt())]);
        // Round a bend of the path: one stretch.
        check(
            &wkt!(LINESTRING(0. 0., 10. 0., 10. 10.)),
            line(wkt!(LINESTRING(10. -9., 10. 1., 10. 2.))),
            &[(7.0, 15.0)],
        );
        // Two crossings are two stretches.
        let twice = wkt!(LINESTRING(5. 0., 5. 10., 25. 10., 25. 0.));
        check(&across, line(twice), &[(2.0, 8.0), (22.0, 28.0)]);
    }

    #[test]
    fn each_shape_has_its_position() {
        let far = wkt!(POLYGON((500. 0., 510. 0., 510. 10., 500. 0.)));
        let shapes = [area(far), line(wkt!(LINESTRING(15. -20., 15. 20.))), area(square())];
        let met = ShapeIndex::new(shapes).along(&wkt!(LINESTRING(0. 5., 30. 5.)), 3.0);
        assert_eq!(met.iter().map(|(position, _)| *position).collect::<Vec<_>>(), [1, 2]);
    }

    #[test]
    fn what_lies_in_an_area() {
        let shapes = [
            area(square()),
            line(wkt!(LINESTRING(15. -20., 15. 20.))),
            line(wkt!(LINESTRING(40. 0., 50. 0.))),
            area(wkt!(POLYGON((20. 0., 30. 0., 30. 10., 20. 10., 20. 0.)))),
        ];
        let asked = wkt!(POLYGON((0. 0., 20. 0., 20. 4., 0. 4., 0. 0.))).into();
        let found = ShapeIndex::new(shapes).inside(&asked);
        // 10 m by 4 m of the square, 4 m of the line; the last area only touches.
        let [(0, Extent::SquareMetres(of_area)), (1, Extent::Metres(of_line))] = found[..] else {
            panic!("{found:?}");
        };
        assert!((of_area - 40.0).abs() < 1e-6 && (of_line - 4.0).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn points_lie_along_a_path() {
        let path = wkt!(LINESTRING(0. 0., 10. 0., 10. 10.));
        let found = points_at(&path, &[0.0, 4.0, 13.0, 20.0]);
        let expected = [(0.0, 0.0), (4.0, 0.0), (10.0, 3.0), (10.0, 10.0)].map(Coord::from);
        assert_eq!(found, expected);
        assert!(points_at(&wkt!(LINESTRING(1. 1., 1. 1.)), &[0.0]).is_empty());
    }

    proptest! {
        /// Stretches inside and near are those of points taken one by one along the path, by the distances of `geo`.
        #[test]
        fn stretches_are_those_of_single_points(
            path in prop::collection::vec((0.0..60.0, 0.0..60.0), 2..8),
            corners in prop::collection::vec((0.0..60.0, 0.0..60.0), 2..6),
            low in (0.0..40.0, 0.0..40.0),
            size in (1.0..20.0, 1.0..20.0),
        ) {
            use geo::{Distance, Euclidean, Intersects};
            let path = LineString::from(path);
            let box_of: geo::Polygon<f64> = geo::Rect::new(low, (low.0 + size.0, low.1 + size.1)).to_polygon();
            let drawn = LineString::from(corners);
            let met = ShapeIndex::new([area(box_of.clone()), line(drawn.clone())]).along(&path, 3.0);
            let on = |shape: usize, at: f64| {
                met.iter().filter(|(position, _)| *position == shape).flat_map(|(_, on)| on).any(|s| s.from_m <= at && at <= s.to_m)
            };
            let total = measured(&path).last().map_or(0.0, |(segment, start)| start + length(segment));
            let distances: Vec<f64> = (0..200).map(|step| total * (f64::from(step) + 0.5) / 200.0).collect();
            for (&at, point) in distances.iter().zip(points_at(&path, &distances)) {
                let point = Point::from(point);
                let to_border = Euclidean.distance(&point, box_of.exterior());
                if to_border > 1e-6 {
                    prop_assert_eq!(on(0, at), box_of.intersects(&point), "{:?}", point);
                }
                let to_line = Euclidean.distance(&point, &drawn);
                if (to_line - 3.0).abs() > 1e-6 {
                    prop_assert_eq!(on(1, at), to_line < 3.0, "{:?}", point);
                }
            }
        }
    }
}
