//! Mapped culverts, pipes and tile mains.

use std::collections::{BTreeMap, BTreeSet};

use fallwright_geodata::{Problem, VectorLayer};
use fallwright_units::{LinkId, MappedStructureIx, StructureKind};
use geo::{Coord, LineString};
use typed_index_collections::{TiSlice, TiVec};

use super::classes::ClassField;
use super::dimensions::{self, Dimensions};
use super::reading::Reading;
use super::shapes::FeaturePlace;
use crate::file::{CaseFile, ClassMap, Source};

/// One structure as mapped.
#[derive(Clone, Debug, PartialEq)]
pub struct MappedStructure {
    /// The file it is from, as the case names it.
    pub file: String,
    pub id: LinkId,
    pub kind: StructureKind,
    pub class: Option<String>,
    /// First and last point as drawn.
    pub ends: (Coord<f64>, Coord<f64>),
    /// As drawn.
    pub line: LineString<f64>,
    /// Invert levels at the first and last point, metres, where both are given.
    pub inverts_m: Option<(f64, f64)>,
    pub dimensions: Dimensions,
}

struct Table<'a> {
    source: &'a Source,
    layer: Option<&'a str>,
    kind: StructureKind,
    id: &'a str,
    class: Option<(&'a str, &'a ClassMap)>,
    inverts: (&'a str, &'a str),
    fields: dimensions::Fields<'a>,
}

/// Reads culverts, then pipes, each in the order of their layers.
pub(super) fn read(reading: &mut Reading, case: &CaseFile) -> TiVec<MappedStructureIx, MappedStructure> {
    let culverts = case.culverts.iter().map(|table| Table {
        source: &table.source,
        layer: table.layer.as_deref(),
        kind: StructureKind::Culvert,
        id: &table.id,
        class: None,
        inverts: (&table.invert_up_m, &table.invert_down_m),
        fields: dimensions::Fields {
            diameter_mm: &table.diameter_mm,
            grade_percent: &table.grade_percent,
            material: &table.material,
            pumped: None,
            is_culvert: true,
        },
    });
    let pipes = case.pipes.iter().map(|table| Table {
        source: &table.source,
        layer: table.layer.as_deref(),
        kind: StructureKind::Pipe,
        id: &table.id,
        class: Some((&table.class, &table.class_map)),
        inverts: (&table.invert_up_m, &table.invert_down_m),
        fields: dimensions::Fields {
            diameter_mm: &table.diameter_mm,
            grade_percent: &table.grade_percent,
            material: &table.material,
            pumped: Some(&table.pumped),
            is_culvert: false,
        },
    });
    let mut structures = TiVec::new();
    for table in culverts.chain(pipes) {
        read_layer(reading, &table, &mut structures);
    }
    structures
}

/// The position of each structure by its id, of several with one id the first.
pub(super) fn positions_by_id(
    structures: &TiSlice<MappedStructureIx, MappedStructure>,
) -> BTreeMap<&str, MappedStructureIx> {
    let mut positions = BTreeMap::new();
    for (position, structure) in structures.iter_enumerated() {
        positions.entry(structure.id.as_str()).or_insert(position);
    }
    positions
}

fn read_layer(reading: &mut Reading, table: &Table, structures: &mut TiVec<MappedStructureIx, MappedStructure>) {
    let Some(layer) = reading.layer(table.source, table.layer, &[table.id]) else {
        reading.drains_are_known = false;
        return;
    };
    let mut classes = table.class.map(|(field, map)| ClassField::new(field, map));
    let earlier: BTreeSet<LinkId> = structures.iter().map(|structure| structure.id.clone()).collect();
    let mut ids = Vec::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let id = reading.id(place, table.id);
        let line = one_line(reading, place, id.as_deref());
        let class = classes.as_mut().and_then(|classes| classes.of(reading, place, id.as_deref()));
        ids.extend(id.clone().map(|id| (feature.position, id)));
        if let (Some(id), Some(line)) = (id, line) {
            refuse_id_of_another_layer(reading, &layer, &id, &earlier);
            let inverts_m = inverts(reading, place, &id, table.inverts);
            let dimensions = dimensions::read(reading, place, &id, table.fields);
            structures.push(MappedStructure {
                file: layer.file.clone(),
                id: LinkId::new(id),
                kind: table.kind,
                class,
                ends: (line.0[0], line.0[line.0.len() - 1]),
                line,
                inverts_m,
                dimensions,
            });
        } else {
            reading.drains_are_known = false;
        }
    }
    if let Some(classes) = classes {
        classes.finish(reading, &layer);
    }
    reading.refuse_shared_ids(&layer, table.id, &ids);
}

fn refuse_id_of_another_layer(reading: &mut Reading, layer: &VectorLayer, id: &str, earlier: &BTreeSet<LinkId>) {
    if earlier.contains(&LinkId::new(id)) {
        let found = "an id that another layer of culverts or pipes has too";
        let expected = "ids that differ between culverts and pipes";
        let problem = Problem::in_file(&layer.file, found, expected, "rename one of the two");
        reading.problems.push(problem.in_layer(&layer.layer).at_feature(id));
    }
}

/// A structure's one line; it has a length, so at least two points.
fn one_line(reading: &mut Reading, place: FeaturePlace, id: Option<&str>) -> Option<LineString<f64>> {
    let lines = reading.lines(place, id)?;
    reading.refuse_nowhere(place, id, &lines);
    let [line] = &lines.0[..] else {
        let (expected, hint) = ("one line from end to end", "draw each structure as one line");
        reading.problems.push(place.problem(id, format!("{} separate lines", lines.0.len()), expected, hint));
        return None;
    };
    Some(line.clone())
}

fn inverts(reading: &mut Reading, place: FeaturePlace, id: &str, fields: (&str, &str)) -> Option<(f64, f64)> {
    let mut level = |field: &str| {
        let value = place.feature.attributes.get(field)?;
        let number = value.number();
        if let (None, Some(text)) = (number, value.text()) {
            let found = format!("{text:?} in the field {field:?}");
            reading.problems.push(place.problem(
                Some(id),
                found,
                "a level in metres",
                "correct the level or leave it empty",
            ));
        }
        number
    };
    let (up, down) = (level(fields.0), level(fields.1));
    Some((up?, down?))
}
