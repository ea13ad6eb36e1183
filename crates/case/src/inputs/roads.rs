//! The road layer.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::{Problem, VectorLayer};
use fallwright_units::{RoadId, RoadIx};
use geo::{BooleanOps, MultiPolygon};
use typed_index_collections::TiVec;

use super::note::Note;
use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file::Roads;

/// One road as given.
#[derive(Clone, Debug, PartialEq)]
pub struct Road {
    /// As given, or made of the feature's number in the layer where none is given: `#2`.
    pub id: RoadId,
    pub name: Option<String>,
    /// Who looks after it.
    pub authority: Option<String>,
    pub shape: MultiPolygon<f64>,
}

impl Road {
    /// Who owns it as far as the case says: its authority, or the road itself where none is given.
    pub fn owner(&self) -> &str {
        self.authority.as_deref().unwrap_or(self.id.as_str())
    }
}

/// One feature of a road.
struct Piece {
    /// Place in the file, from 1.
    position: usize,
    name: Option<String>,
    authority: Option<String>,
    shape: MultiPolygon<f64>,
}

/// Reads roads in the order of their ids; features with one id are one road. A road without an id is one of its own.
pub(super) fn read(reading: &mut Reading, table: &Roads) -> TiVec<RoadIx, Road> {
    let fields = [&table.id, &table.name, &table.authority];
    let fields: Vec<&str> = fields.into_iter().flatten().map(String::as_str).collect();
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else { return TiVec::new() };
    let places = || layer.features.iter().map(|feature| FeaturePlace { layer: &layer, feature });
    let given: BTreeSet<String> = places().filter_map(|place| place.text(table.id.as_ref())).collect();
    let mut pieces: BTreeMap<String, Vec<Piece>> = BTreeMap::new();
    let mut without_id = Vec::new();
    for place in places() {
        let position = place.feature.position;
        let id = place.text(table.id.as_ref());
        let Some(shape) = reading.polygon(place, id.as_deref()) else { continue };
        reading.refuse_nowhere(place, id.as_deref(), &shape);
        let (name, authority) = (place.text(table.name.as_ref()), place.text(table.authority.as_ref()));
        let id = id.unwrap_or_else(|| {
            without_id.push(position);
            made_id(position, &given)
        });
        pieces.entry(id).or_default().push(Piece { position, name, authority, shape });
    }
    if let Some(field) = &table.id {
        note_made_ids(reading, field, &without_id);
    }
    pieces.into_iter().map(|(id, pieces)| road(&mut reading.problems, &layer, id, pieces)).collect()
}

/// An id that no road of the layer has: `#2` for its second feature, `#2-2` where that is another's.
fn made_id(position: usize, given: &BTreeSet<String>) -> String {
    let first = format!("#{position}");
    let further = (2..).map(|count| format!("#{position}-{count}"));
    std::iter::once(first).chain(further).find(|id| !given.contains(id)).expect("endless")
}

fn note_made_ids(reading: &mut Reading, field: &str, positions: &[usize]) {
    /// More features than this are not listed (our choice).
    const LISTED: usize = 10;
    if positions.is_empty() {
        return;
    }
    let more = if positions.len() > LISTED { format!(" and {} more", positions.len() - LISTED) } else { String::new() };
    let listed = positions.iter().take(LISTED).map(ToString::to_string).collect::<Vec<_>>().join(", ");
    reading.notes.push(Note::new(
        "roads",
        format!("no value in the field {field:?} of the features {listed}{more}"),
        "each is a road of its own, named by its number in the layer: #1 for the first",
    ));
}

/// The road of all features with one id; a problem for each thing in which they disagree. What a feature leaves empty agrees
/// with anything.
fn road(problems: &mut Vec<Problem>, layer: &VectorLayer, id: String, pieces: Vec<Piece>) -> Road {
    let mut agreed = |what: &str, of: fn(&Piece) -> Option<&String>| {
        let mut given = pieces.iter().filter_map(|piece| Some((piece.position, of(piece)?)));
        let (first, value) = given.next()?;
        if let Some((second, other)) = given.find(|(_, other)| *other != value) {
            let found = format!("the {what} {value:?} on feature {first} and {other:?} on feature {second}");
            let hint = "correct one of them, or give the features different ids";
            let problem = Problem::in_file(&layer.file, found, format!("one {what} for each road"), hint);
            problems.push(problem.in_layer(&layer.layer).at_feature(&id));
        }
        Some(value.clone())
    };
    let name = agreed("name", |piece| piece.name.as_ref());
    let authority = agreed("authority", |piece| piece.authority.as_ref());
    let shapes = pieces.into_iter().map(|piece| piece.shape);
    let shape = shapes.reduce(|all, next| all.union(&next)).expect("an id has a feature");
    Road { id: RoadId::new(id), name, authority, shape }
}

#[cfg(test)]
mod tests {
    use geo::{Area, Rect};

    use super::*;

    #[test]
    fn a_made_id_is_no_other_road_s() {
        let check = |given: &[&str], expected: &str| {
            assert_eq!(made_id(2, &given.iter().map(|id| (*id).to_owned()).collect()), expected);
        };
        check(&[], "#2");
        check(&["#1", "2"], "#2");
        check(&["#2"], "#2-2");
        check(&["#2", "#2-2"], "#2-3");
    }

    /// Name and authority of features of one road, 100 m by 20 m each, the second half on the first.
    fn joined(features: &[(Option<&str>, Option<&str>)]) -> (Road, Vec<String>) {
        let layer = VectorLayer {
            file: "roads.geojson".to_owned(),
            layer: "roads".to_owned(),
            fields: vec![],
            features: vec![],
            taken_as_stated: false,
        };
        let piece = |(position, (name, authority)): (usize, &(Option<&str>, Option<&str>))| {
            let west = 50.0 * position as f64;
            Piece {
                position: position + 1,
                name: name.map(ToOwned::to_owned),
                authority: authority.map(ToOwned::to_owned),
                shape: Rect::new((west, 0.0), (west + 100.0, 20.0)).to_polygon().into(),
            }
        };
        let mut problems = Vec::new();
        let road = road(&mut problems, &layer, "R-1".to_owned(), features.iter().enumerate().map(piece).collect());
        (road, problems.into_iter().map(|problem| problem.found).collect())
    }

    #[test]
    fn features_of_one_id_are_one_road() {
        let (mill, county) = (Some("Mill Road"), Some("County of Thrumbleby"));
        let (road, problems) = joined(&[(mill, county), (mill, county)]);
        assert!(problems.is_empty());
        assert_eq!((road.name.as_deref(), road.authority.as_deref()), (mill, county));
        // 150 m by 20 m: what lies on both counts once.
        assert!((road.shape.unsigned_area() - 3_000.0).abs() < 0.01, "{}", road.shape.unsigned_area());
    }

    #[test]
    fn what_is_left_empty_agrees_with_anything() {
        let (road, problems) = joined(&[(None, Some("County of Thrumbleby")), (Some("Mill Road"), None)]);
        assert!(problems.is_empty());
        assert_eq!(
            (road.name.as_deref(), road.authority.as_deref()),
            (Some("Mill Road"), Some("County of Thrumbleby"))
        );
    }

    #[test]
    fn features_of_one_id_that_disagree_are_named() {
        let (_, problems) = joined(&[(Some("Mill Road"), Some("A")), (None, None), (Some("Mill Lane"), Some("B"))]);
        let expected = [
            r#"the name "Mill Road" on feature 1 and "Mill Lane" on feature 3"#,
            r#"the authority "A" on feature 1 and "B" on feature 3"#,
        ];
        assert_eq!(problems, expected);
    }
}
