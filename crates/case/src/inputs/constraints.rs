//! Layers of what works would meet on their way: wetlands, regulated areas, fish habitat, utilities.

use fallwright_geodata::VectorLayer;
use fallwright_land::Shape;
use fallwright_law::Profile;
use fallwright_units::ConstraintIx;
use geo::Geometry;
use typed_index_collections::TiVec;

use super::note::Note;
use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file::Constraints;
use crate::nearest::nearest;
use crate::spelling;

/// One feature of a layer of constraints.
#[derive(Clone, Debug, PartialEq)]
pub struct Constraint {
    /// As the rule profile spells it where it lists the kind, else as the case does.
    pub kind: String,
    pub id: Option<String>,
    pub name: Option<String>,
    /// Class within the kind, such as that of a fish habitat.
    pub class: Option<String>,
    pub shape: Shape,
}

/// Reads all layers, in their order; every feature is a constraint of its own.
pub(super) fn read(reading: &mut Reading, tables: &[Constraints]) -> TiVec<ConstraintIx, Constraint> {
    let mut constraints = TiVec::new();
    for table in tables {
        read_layer(reading, table, &mut constraints);
    }
    constraints
}

fn read_layer(reading: &mut Reading, table: &Constraints, constraints: &mut TiVec<ConstraintIx, Constraint>) {
    let kind = Kind::of(&table.kind, reading.profile);
    reading.notes.extend(kind.note);
    let fields = [&table.id, &table.name, &table.class];
    let fields: Vec<&str> = fields.into_iter().flatten().map(String::as_str).collect();
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else { return };
    for place in places(&layer) {
        let id = place.text(table.id.as_ref());
        let Some(shape) = shape(reading, place, id.as_deref()) else { continue };
        constraints.push(Constraint {
            kind: kind.word.clone(),
            id,
            name: place.text(table.name.as_ref()),
            class: place.text(table.class.as_ref()),
            shape,
        });
    }
}

fn places(layer: &VectorLayer) -> impl Iterator<Item = FeaturePlace<'_>> {
    layer.features.iter().map(move |feature| FeaturePlace { layer, feature })
}

/// A feature's polygon or lines, or a problem.
fn shape(reading: &mut Reading, place: FeaturePlace, id: Option<&str>) -> Option<Shape> {
    match place.feature.geometry {
        Some(Geometry::Polygon(_) | Geometry::MultiPolygon(_)) => reading.polygon(place, id).map(Shape::Area),
        Some(Geometry::LineString(_) | Geometry::MultiLineString(_)) => reading.lines(place, id).map(Shape::Line),
        _ => {
            let (expected, hint) = ("a polygon or a line", "mend the feature or leave it out of the layer");
            reading.problems.push(place.problem(id, place.kind_of_geometry(), expected, hint));
            None
        }
    }
}

/// What a layer shows.
#[derive(Debug, PartialEq)]
struct Kind {
    word: String,
    /// Where the profile does not list it.
    note: Option<Note>,
}

impl Kind {
    fn of(given: &str, profile: Option<&Profile>) -> Self {
        let unchecked = |note| Self { word: given.to_owned(), note };
        let Some(profile) = profile else { return unchecked(None) };
        let known: Vec<&str> = profile.constraints().iter().map(|rule| rule.kind.as_str()).collect();
        if let Some(position) = spelling::find(given, known.iter().copied()) {
            return Self { word: known[position].to_owned(), note: None };
        }
        let near = nearest(given, known.iter().copied()).map_or_else(
            || "the profile lists no kind".to_owned(),
            |near| format!("the nearest kind that it lists is {near:?}"),
        );
        unchecked(Some(Note::new(
            format!("constraints of the kind {given:?}"),
            format!("a kind that the profile {} does not list; {near}", profile.id),
            format!("for these, ask {}", profile.ask.records),
        )))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The kind, and whether a note names the nearest known one.
    fn check(given: &str, expected: &str, near: Option<&str>) {
        let profile = Profile::shipped("ontario").unwrap();
        let Kind { word, note } = Kind::of(given, Some(&profile));
        assert_eq!(word, expected);
        let found = note.map(|note| note.found);
        let expected = near.map(|near| {
            format!("a kind that the profile ontario does not list; the nearest kind that it lists is {near:?}")
        });
        assert_eq!(found, expected, "{given}");
    }

    #[test]
    fn a_kind_is_the_profile_s_in_any_spelling() {
        check("wetland", "wetland", None);
        check("Regulated Area", "regulated_area", None);
        check("FISH-HABITAT", "fish_habitat", None);
    }

    #[test]
    fn an_unknown_kind_is_kept_and_the_nearest_named() {
        check("wetlands", "wetlands", Some("wetland"));
        check("utilities", "utilities", Some("utility"));
    }

    #[test]
    fn an_unknown_kind_is_asked_of_the_records() {
        let note = Kind::of("heritage", Profile::shipped("ontario").as_ref()).note.unwrap();
        assert_eq!(note.about, "constraints of the kind \"heritage\"");
        assert_eq!(note.done, "for these, ask the municipal clerk");
    }

    #[test]
    fn without_a_profile_no_kind_is_checked() {
        assert_eq!(Kind::of("wet land", None), Kind { word: "wet land".to_owned(), note: None });
    }
}
