//! Mapped waterways.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;
use fallwright_law::ClassKind;
use fallwright_units::{PartialDate, WaterwayId, WaterwayIx};
use geo::{Distance, Euclidean, Geometry, MultiLineString, MultiPolygon, Point, unary_union};
use typed_index_collections::TiVec;

use super::classes::{self, ClassField};
use super::note::Note;
use super::reading::Reading;
use super::shapes::FeaturePlace;
use super::tangles::{MOST_CROSSINGS, is_tangled};
use crate::file::{WaterwayClass, Waterways};

/// One mapped waterway; features of one layer that share an id are its parts.
#[derive(Clone, Debug, PartialEq)]
pub struct MappedWaterway {
    pub id: WaterwayId,
    pub name: Option<String>,
    pub class: String,
    /// Top of bank to top of bank, metres; 0 where not known.
    pub width_m: f64,
    /// Parcels named in an agreement, award or written permission; `None` where none are supplied.
    pub members: Option<Vec<String>>,
    pub registered: Option<bool>,
    /// When the agreement was made: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    pub agreed: Option<PartialDate>,
    pub bylaw: Option<String>,
    /// Its centre line; empty where it is mapped as a polygon.
    pub lines: MultiLineString<f64>,
    /// The water's surface of a lake or a wide river; empty where it is mapped as a line.
    pub shape: MultiPolygon<f64>,
}

impl MappedWaterway {
    /// A lake, a pond or a wide river that is mapped with its shores.
    pub fn is_polygon(&self) -> bool {
        !self.shape.0.is_empty()
    }

    /// From its line, or from its water where it is a polygon, metres.
    pub(super) fn distance_m(&self, place: Point<f64>) -> f64 {
        if self.is_polygon() {
            Euclidean.distance(&place, &self.shape)
        } else {
            Euclidean.distance(&place, &self.lines)
        }
    }
}

/// Reads all waterway layers, in the order of the case and of the features' ids.
pub(super) fn read(
    reading: &mut Reading,
    tables: &[Waterways],
    parcels: &BTreeSet<&str>,
) -> TiVec<WaterwayIx, MappedWaterway> {
    let mut all = TiVec::new();
    let mut ids = BTreeSet::new();
    for table in tables {
        for waterway in read_layer(reading, table) {
            if !ids.insert(waterway.id.clone()) {
                let found = "an id that another waterway layer has too";
                let expected = "ids that differ between the waterway layers";
                let problem = Problem::in_file(&table.source.given, found, expected, "rename one of the two")
                    .at_feature(waterway.id.as_str());
                reading.problems.push(Problem { layer: table.layer.clone(), ..problem });
            }
            note_unknown_members(reading, &waterway, parcels);
            all.push(waterway);
        }
    }
    all
}

fn read_layer(reading: &mut Reading, table: &Waterways) -> Vec<MappedWaterway> {
    let class_field = match &table.class {
        WaterwayClass::Field(field) => Some(field),
        WaterwayClass::Named(_) => None,
    };
    let optional = [class_field, table.name.as_ref(), table.width_m.as_ref(), table.members.as_ref()];
    let optional =
        optional.into_iter().chain([table.registered.as_ref(), table.agreed.as_ref(), table.bylaw.as_ref()]).flatten();
    let fields: Vec<&str> = std::iter::once(&table.id).chain(optional).map(String::as_str).collect();
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else {
        reading.drains_are_known = false;
        return Vec::new();
    };
    let mut class = LayerClass::read(reading, table);
    let mut waterways: BTreeMap<WaterwayId, MappedWaterway> = BTreeMap::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let id = reading.id(place, &table.id);
        let class = class.of(reading, place, id.as_deref());
        let course = course(reading, place, id.as_deref(), &class);
        let width_m = width(reading, place, id.as_deref(), table.width_m.as_ref());
        let (Some(id), Some((lines, shape))) = (id, course) else {
            reading.drains_are_known = false;
            continue;
        };
        let attribute = |field: Option<&String>| field.and_then(|field| feature.attributes.get(field));
        let agreed = reading.date(place, Some(&id), table.agreed.as_ref());
        let members = attribute(table.members.as_ref()).map(fallwright_geodata::Attribute::list);
        let waterway = MappedWaterway {
            id: WaterwayId::new(id.clone()),
            name: place.text(table.name.as_ref()),
            class,
            width_m,
            members: members.filter(|members| !members.is_empty()),
            registered: attribute(table.registered.as_ref()).and_then(fallwright_geodata::Attribute::flag),
            agreed,
            bylaw: place.text(table.bylaw.as_ref()),
            lines,
            shape,
        };
        match waterways.get_mut(&waterway.id) {
            None => drop(waterways.insert(waterway.id.clone(), waterway)),
            Some(known) if known.is_polygon() != waterway.is_polygon() => reading.problems.push(place.problem(
                Some(&id),
                format!("a line and a polygon that are both {id}"),
                "lines alone or polygons alone for the parts of a waterway",
                "give the polygon an id of its own",
            )),
            Some(known) if known.class == waterway.class => {
                known.lines.0.extend(waterway.lines.0);
                known.shape.0.extend(waterway.shape.0);
            }
            Some(known) => reading.problems.push(place.problem(
                Some(&id),
                format!("the class {:?}, and {:?} on another part of {id}", waterway.class, known.class),
                "one class for all parts of a waterway",
                "give the parts different ids, or the same class",
            )),
        }
    }
    if let LayerClass::Field(field) = class {
        field.finish(reading, &layer);
    }
    let mut waterways: Vec<MappedWaterway> = waterways.into_values().collect();
    for waterway in waterways.iter_mut().filter(|waterway| waterway.shape.0.len() > 1) {
        // Parts that touch are one water, and the line between them is no shore.
        waterway.shape = unary_union(&waterway.shape);
    }
    for waterway in waterways.iter().filter(|waterway| is_tangled(&waterway.lines)) {
        let found = format!("a line that crosses itself more than {MOST_CROSSINGS} times, or lies on itself");
        let problem = Problem::in_file(&layer.file, found, "a channel's centre line", "draw the channel anew");
        reading.problems.push(problem.in_layer(&layer.layer).at_feature(waterway.id.as_str()));
    }
    waterways
}

/// A feature's lines, or its polygon where its class is that of a lake or a natural channel; the other of the two is empty.
fn course(
    reading: &mut Reading,
    place: FeaturePlace,
    id: Option<&str>,
    class: &str,
) -> Option<(MultiLineString<f64>, MultiPolygon<f64>)> {
    if !matches!(place.feature.geometry, Some(Geometry::Polygon(_) | Geometry::MultiPolygon(_))) {
        return Some((reading.lines(place, id)?, MultiPolygon::new(Vec::new())));
    }
    let kind = reading.profile.and_then(|profile| profile.class(class)).map(|class| class.kind);
    if let Some(kind) = kind.filter(|kind| !matches!(kind, ClassKind::Lake | ClassKind::Channel)) {
        let found = format!("a polygon of the class {class}, whose kind is {}", kind.code());
        let expected = "a line; polygons are lakes, ponds and wide rivers";
        let hint =
            "draw its centre line, with its width in a field, or give it the class of a lake or a natural channel";
        reading.problems.push(place.problem(id, found, expected, hint));
        return None;
    }
    Some((MultiLineString::new(Vec::new()), reading.polygon(place, id)?))
}

/// Where the classes of a layer come from.
enum LayerClass<'a> {
    One(String),
    Field(ClassField<'a>),
}

impl<'a> LayerClass<'a> {
    fn read(reading: &mut Reading, table: &'a Waterways) -> Self {
        match &table.class {
            WaterwayClass::Named(class) => Self::One(named(reading, &table.key, class)),
            WaterwayClass::Field(field) => Self::Field(ClassField::new(field, &table.class_map)),
        }
    }

    /// A feature's class; a stand-in where there is none, which is reported.
    fn of(&mut self, reading: &mut Reading, place: FeaturePlace, id: Option<&str>) -> String {
        let field = match self {
            Self::One(class) => return class.clone(),
            Self::Field(field) => field,
        };
        field.of(reading, place, id).unwrap_or_else(|| {
            field.refuse_empty(reading, place, id);
            String::new()
        })
    }
}

/// The class that the case file gives for a whole layer.
fn named(reading: &mut Reading, key: &str, class: &str) -> String {
    let Some(profile) = reading.profile else { return class.to_owned() };
    classes::class_of(class, profile).unwrap_or_else(|| {
        let problem = classes::no_class(reading.case_file, format!("the class {class:?}"), class, profile);
        reading.problems.push(problem.at_key(format!("{key}.class")));
        class.to_owned()
    })
}

fn width(reading: &mut Reading, place: FeaturePlace, id: Option<&str>, field: Option<&String>) -> f64 {
    let Some(value) = field.and_then(|field| place.feature.attributes.get(field)) else { return 0.0 };
    match value.number() {
        Some(width) if (0.0..=MOST_WIDTH_M).contains(&width) => width,
        None if value.text().is_none() => 0.0,
        _ => {
            let found = format!("the width {}", value.text().unwrap_or_default());
            let expected = format!("a width in metres, from 0 to {MOST_WIDTH_M}");
            reading.problems.push(place.problem(id, found, &expected, "correct the width"));
            0.0
        }
    }
}

/// Wider than any channel from top of bank to top of bank, in metres (our choice, no source).
const MOST_WIDTH_M: f64 = 10_000.0;

fn note_unknown_members(reading: &mut Reading, waterway: &MappedWaterway, parcels: &BTreeSet<&str>) {
    let members = waterway.members.iter().flatten();
    let unknown: Vec<&str> = members.map(String::as_str).filter(|member| !parcels.contains(member)).collect();
    if !unknown.is_empty() && !parcels.is_empty() {
        reading.notes.push(Note::new(
            format!("waterway {}", waterway.id),
            format!("members that no parcel has as its id: {}", unknown.join(", ")),
            "they were left out of every finding",
        ));
    }
}
