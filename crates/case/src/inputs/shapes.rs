//! Features with a sound geometry of the kind a layer needs.

use std::collections::BTreeMap;
use std::path::Path;

use fallwright_geodata::{Problem, VectorFeature, VectorLayer, read_vector};
use fallwright_units::PartialDate;
use geo::{BoundingRect, CoordsIter, Geometry, LineString, MultiLineString, MultiPolygon, Rect, Validation};

use super::ground::as_stated;
use super::mending::{Mended, mended};
use super::note::Note;
use super::reading::Reading;
use crate::file::Source;

/// Where a feature is: the start of every message about it.
#[derive(Clone, Copy)]
pub(super) struct FeaturePlace<'a> {
    pub(super) layer: &'a VectorLayer,
    pub(super) feature: &'a VectorFeature,
}

impl FeaturePlace<'_> {
    pub(super) fn problem(self, id: Option<&str>, found: impl Into<String>, expected: &str, hint: &str) -> Problem {
        Problem::in_file(&self.layer.file, found, expected, hint).in_layer(&self.layer.layer).at_feature(self.name(id))
    }

    /// Id and number in the file.
    pub(super) fn name(self, id: Option<&str>) -> String {
        let position = self.feature.position;
        id.map_or_else(|| format!("number {position}"), |id| format!("{id} (number {position})"))
    }

    pub(super) fn kind_of_geometry(self) -> &'static str {
        kind(self.feature.geometry.as_ref())
    }

    pub(super) fn text(self, field: Option<&String>) -> Option<String> {
        self.feature.attributes.get(field?)?.text()
    }
}

impl Reading<'_> {
    /// A date where the feature has one.
    pub(super) fn date(
        &mut self,
        place: FeaturePlace,
        id: Option<&str>,
        field: Option<&String>,
    ) -> Option<PartialDate> {
        let date = place.text(field)?.parse::<PartialDate>();
        if let Err(error) = &date {
            let found = format!("{error} in the field {:?}", field.map_or("", String::as_str));
            let expected = "a year, month or day: 1998, 1998-05 or 1998-05-02";
            self.problems.push(place.problem(id, found, expected, "correct the date or leave it empty"));
        }
        date.ok()
    }

    /// Reads a layer, checks that the fields it must have are there, that it holds something and that it meets the
    /// elevation. `None` where there is nothing more to read.
    pub(super) fn layer(&mut self, source: &Source, layer: Option<&str>, fields: &[&str]) -> Option<VectorLayer> {
        self.repair = source.repair;
        let read = read_named(source, layer, self)?;
        let of_layer = |found: String, expected: &str, hint: &str| {
            Problem::in_file(&read.file, found, expected, hint).in_layer(&read.layer)
        };
        if read.features.is_empty() {
            let hint = "check the file and the layer name, or leave the table out of the case file";
            self.problems.push(of_layer("no features".to_owned(), "at least one feature", hint));
            return None;
        }
        for field in fields.iter().filter(|field| !read.fields.iter().any(|known| known == *field)) {
            let found = format!("no field {field:?}; there are {}", read.fields.join(", "));
            let hint = "name the right field in the case file, or add it to the layer";
            self.problems.push(of_layer(found, &format!("a field {field:?}"), hint));
        }
        if !read.features.iter().any(|feature| self.meets_elevation(feature)) {
            let (expected, hint) = ("a layer within the elevation's extent", "check both coordinate reference systems");
            self.problems.push(of_layer("no feature within the extent of the elevation".to_owned(), expected, hint));
            return None;
        }
        Some(read)
    }

    fn meets_elevation(&self, feature: &VectorFeature) -> bool {
        feature.geometry.as_ref().and_then(BoundingRect::bounding_rect).is_some_and(|bounds| self.meets(bounds))
    }

    /// Whether some bounds have a place in common with the elevation.
    pub(super) fn meets(&self, bounds: Rect<f64>) -> bool {
        let frame = self.frame;
        bounds.max().x >= frame.west()
            && bounds.min().x <= frame.east()
            && bounds.max().y >= frame.south()
            && bounds.min().y <= frame.north()
    }

    /// Whether some bounds lie within the elevation.
    pub(super) fn encloses(&self, bounds: Rect<f64>) -> bool {
        let frame = self.frame;
        bounds.min().x >= frame.west()
            && bounds.max().x <= frame.east()
            && bounds.min().y >= frame.south()
            && bounds.max().y <= frame.north()
    }

    /// Refuses a feature with a corner so far off that it has no longitude and latitude, in which it would be written.
    pub(super) fn refuse_nowhere(
        &mut self,
        place: FeaturePlace,
        id: Option<&str>,
        shape: &(impl BoundingRect<f64, Output = Option<Rect<f64>>> + CoordsIter<Scalar = f64>),
    ) {
        if shape.bounding_rect().is_some_and(|bounds| self.encloses(bounds)) {
            return;
        }
        if let Some(error) = shape.coords_iter().find_map(|at| self.to_lonlat.point((at.x, at.y)).err()) {
            let (expected, hint) = ("corners that have a place on the earth", "correct the corner's coordinates");
            self.problems.push(place.problem(id, error.to_string(), expected, hint));
        }
    }

    /// The feature's id, or a problem where it has none.
    pub(super) fn id(&mut self, place: FeaturePlace, field: &str) -> Option<String> {
        let id = place.feature.attributes.get(field).and_then(fallwright_geodata::Attribute::text);
        if id.is_none() && place.layer.fields.iter().any(|known| known == field) {
            let hint = "give every feature an id; ids are text, so leading zeros count";
            self.problems.push(place.problem(None, format!("no value in the field {field:?}"), "an id", hint));
        }
        id
    }

    /// A valid polygon with an area, or a problem.
    pub(super) fn polygon(&mut self, place: FeaturePlace, id: Option<&str>) -> Option<MultiPolygon<f64>> {
        let polygon = match &place.feature.geometry {
            Some(Geometry::Polygon(polygon)) => MultiPolygon::new(vec![polygon.clone()]),
            Some(Geometry::MultiPolygon(polygon)) => polygon.clone(),
            other => {
                let (expected, hint) = ("a polygon", "mend the feature or leave it out of the layer");
                self.problems.push(place.problem(id, kind(other.as_ref()), expected, hint));
                return None;
            }
        };
        // The second check names the ring at fault; its time grows with the square of the corners.
        let faults: Vec<String> = if place.feature.known_valid {
            Vec::new()
        } else {
            polygon.validation_errors().iter().map(ToString::to_string).collect()
        };
        if polygon.0.is_empty() {
            let hint = "draw the polygon, or leave the feature out of the layer";
            self.problems.push(place.problem(id, "an empty polygon", "a valid polygon", hint));
            return None;
        }
        if faults.is_empty() { Some(polygon) } else { self.mended(place, id, &polygon, listed(&faults)) }
    }

    /// The polygon mended, where the case asks for that and no more than a sliver changes, or a problem.
    fn mended(
        &mut self,
        place: FeaturePlace,
        id: Option<&str>,
        polygon: &MultiPolygon<f64>,
        faults: String,
    ) -> Option<MultiPolygon<f64>> {
        let mended = self.repair.then(|| mended(polygon)).flatten();
        let Some(Mended { shape, changed_m2, widest_m }) = mended else {
            let hint = if self.repair {
                "mend the polygon in a GIS; `repair` finds no valid polygon in it"
            } else {
                "mend the polygon in a GIS, or set `repair = true` in the layer's table, which lists what it changes"
            };
            self.problems.push(place.problem(id, faults, "a valid polygon", hint));
            return None;
        };
        let change = format!("{changed_m2:.2} m² of ground, {widest_m:.2} m wide on average where that is widest");
        if widest_m > self.sliver_m {
            let expected = format!("a polygon that mending changes by slivers of at most {} m", self.sliver_m);
            let hint = "mend the polygon in a GIS: what belongs to it cannot be read from its rings";
            let found = format!("{faults}; mending would change {change}");
            self.problems.push(place.problem(id, found, &expected, hint));
            return None;
        }
        let about = format!("{}, feature {}", place.layer.file, place.name(id));
        self.notes.push(Note::new(about, faults, format!("mended; that changes {change}")));
        Some(shape)
    }

    /// Lines with a length, or a problem.
    pub(super) fn lines(&mut self, place: FeaturePlace, id: Option<&str>) -> Option<MultiLineString<f64>> {
        let lines = match &place.feature.geometry {
            Some(Geometry::LineString(line)) => MultiLineString::new(vec![line.clone()]),
            Some(Geometry::MultiLineString(lines)) => lines.clone(),
            other => {
                let (expected, hint) = ("a line", "mend the feature or leave it out of the layer");
                self.problems.push(place.problem(id, kind(other.as_ref()), expected, hint));
                return None;
            }
        };
        if lines.0.is_empty() || !lines.iter().all(has_length) {
            let hint = "draw the line with at least two different points";
            self.problems.push(place.problem(id, "a line without length", "a line with a length", hint));
            return None;
        }
        Some(lines)
    }

    /// Reports every id that several features share.
    pub(super) fn refuse_shared_ids(&mut self, layer: &VectorLayer, field: &str, ids: &[(usize, String)]) {
        let mut positions: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (position, id) in ids {
            positions.entry(id).or_default().push(*position);
        }
        for (id, positions) in positions.into_iter().filter(|(_, positions)| positions.len() > 1) {
            let numbers: Vec<String> = positions.iter().map(ToString::to_string).collect();
            let found = format!("the same {field:?} on features {}", numbers.join(", "));
            let hint = "join the parts into one multi-part feature, or correct the ids";
            let problem = Problem::in_file(&layer.file, found, "one feature for each id", hint);
            self.problems.push(problem.in_layer(&layer.layer).at_feature(id));
        }
    }
}

fn read_named(source: &Source, layer: Option<&str>, reading: &mut Reading) -> Option<VectorLayer> {
    match read_vector(Path::new(&source.path), layer, reading.crs, reading.stated_crs) {
        Ok(read) => {
            if read.taken_as_stated {
                let found = "a reference system without a name, whose datum is not known";
                reading.notes.push(Note::new(source.given.as_str(), found, as_stated(reading.crs)));
            }
            Some(VectorLayer { file: source.given.clone(), ..read })
        }
        Err(problems) => {
            let as_given = |problem| Problem { file: source.given.clone(), ..problem };
            reading.problems.extend(problems.into_iter().map(as_given));
            None
        }
    }
}

/// The first few of a polygon's faults.
fn listed(faults: &[String]) -> String {
    /// More are not listed (our choice).
    const LISTED: usize = 3;
    let more = faults.len().saturating_sub(LISTED);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", faults[..faults.len().min(LISTED)].join("; "))
}

fn has_length(line: &LineString<f64>) -> bool {
    line.lines().any(|edge| edge.start != edge.end)
}

fn kind(geometry: Option<&Geometry<f64>>) -> &'static str {
    match geometry {
        None => "no geometry",
        Some(Geometry::Point(_) | Geometry::MultiPoint(_)) => "points",
        Some(Geometry::Line(_) | Geometry::LineString(_) | Geometry::MultiLineString(_)) => "a line",
        Some(Geometry::Polygon(_) | Geometry::MultiPolygon(_) | Geometry::Rect(_) | Geometry::Triangle(_)) => {
            "a polygon"
        }
        Some(Geometry::GeometryCollection(_)) => "a collection of geometries",
    }
}
