//! Mapped waterways.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::Problem;
use fallwright_units::{PartialDate, WaterwayId, WaterwayIx};
use geo::MultiLineString;
use typed_index_collections::TiVec;

use super::tangles::{MOST_CROSSINGS, is_tangled};
use super::{Note, Reading, shapes::FeaturePlace};
use crate::file::{WaterwayClass, Waterways};
use crate::nearest::meant;

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
    pub lines: MultiLineString<f64>,
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
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &fields) else { return Vec::new() };
    let mut waterways: BTreeMap<WaterwayId, MappedWaterway> = BTreeMap::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let id = reading.id(place, &table.id);
        let lines = reading.lines(place, id.as_deref());
        let class = class(reading, place, id.as_deref(), &table.class);
        let width_m = width(reading, place, id.as_deref(), table.width_m.as_ref());
        let (Some(id), Some(lines), Some(class)) = (id, lines, class) else { continue };
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
        };
        match waterways.get_mut(&waterway.id) {
            None => drop(waterways.insert(waterway.id.clone(), waterway)),
            Some(known) if known.class == waterway.class => known.lines.0.extend(waterway.lines.0),
            Some(known) => reading.problems.push(place.problem(
                Some(&id),
                format!("the class {:?}, and {:?} on another part of {id}", waterway.class, known.class),
                "one class for all parts of a waterway",
                "give the parts different ids, or the same class",
            )),
        }
    }
    let waterways: Vec<MappedWaterway> = waterways.into_values().collect();
    for waterway in waterways.iter().filter(|waterway| is_tangled(&waterway.lines)) {
        let found = format!("a line that crosses itself more than {MOST_CROSSINGS} times, or lies on itself");
        let problem = Problem::in_file(&layer.file, found, "a channel's centre line", "draw the channel anew");
        reading.problems.push(problem.in_layer(&layer.layer).at_feature(waterway.id.as_str()));
    }
    waterways
}

fn class(reading: &mut Reading, place: FeaturePlace, id: Option<&str>, class: &WaterwayClass) -> Option<String> {
    let (found, what) = match class {
        WaterwayClass::Named(class) => (Some(class.clone()), "in the case file".to_owned()),
        WaterwayClass::Field(field) => (place.text(Some(field)), format!("in the field {field:?}")),
    };
    let known = || reading.profile.class_ids();
    match found {
        Some(class) if known().any(|id| id == class) => Some(class),
        found => {
            let hint = found.as_deref().and_then(|class| meant(class, known())).map_or_else(
                || "use a class of the rule profile".to_owned(),
                |class| format!("did you mean {class:?}?"),
            );
            let expected =
                format!("a class of the profile {}: {}", reading.profile.id, known().collect::<Vec<_>>().join(", "));
            let found = found.map_or_else(|| format!("no class {what}"), |class| format!("the class {class:?} {what}"));
            reading.problems.push(place.problem(id, found, &expected, &hint));
            None
        }
    }
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
