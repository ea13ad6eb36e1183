//! Layers of areas: fields, tiled land, kept depressions.

use std::collections::BTreeSet;

use fallwright_units::{FieldId, MappedStructureIx, ParcelId};
use geo::MultiPolygon;
use typed_index_collections::TiSlice;

use super::reading::Reading;
use super::shapes::FeaturePlace;
use super::structures::{MappedStructure, positions_by_id};
use crate::file::{Fields, KeptDepressions, TiledAreas};

/// A field within a parcel.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    pub id: FieldId,
    pub parcel: ParcelId,
    pub shape: MultiPolygon<f64>,
}

/// Land drained by pipe.
#[derive(Clone, Debug, PartialEq)]
pub struct TiledArea {
    /// Its main.
    pub structure: MappedStructureIx,
    pub shape: MultiPolygon<f64>,
}

/// Reads fields; where no parcel could be read there is nothing to check their parcels against.
pub(super) fn fields(reading: &mut Reading, table: &Fields, parcels: &BTreeSet<&str>) -> Vec<Field> {
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &[&table.id, &table.parcel]) else {
        return Vec::new();
    };
    let mut fields = Vec::new();
    let mut ids = Vec::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let id = reading.id(place, &table.id);
        let shape = reading.polygon(place, id.as_deref());
        let parcel = place.text(Some(&table.parcel));
        let (Some(id), Some(shape)) = (id, shape) else { continue };
        ids.push((feature.position, id.clone()));
        if let Some(parcel) = parcel.as_deref().filter(|parcel| parcels.contains(parcel)) {
            fields.push(Field { id: FieldId::new(id), parcel: ParcelId::new(parcel), shape });
        } else if !parcels.is_empty() {
            let found = parcel.map_or("no parcel".to_owned(), |parcel| format!("the parcel {parcel:?}"));
            let hint = "correct the parcel's id; ids are text, so leading zeros count";
            reading.problems.push(place.problem(Some(&id), found, "the id of a parcel of the parcel layer", hint));
        }
    }
    reading.refuse_shared_ids(&layer, &table.id, &ids);
    fields
}

pub(super) fn tiled(
    reading: &mut Reading,
    table: &TiledAreas,
    structures: &TiSlice<MappedStructureIx, MappedStructure>,
) -> Vec<TiledArea> {
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &[&table.pipe]) else { return Vec::new() };
    let known = positions_by_id(structures);
    let mut areas = Vec::new();
    for feature in &layer.features {
        let place = FeaturePlace { layer: &layer, feature };
        let pipe = place.text(Some(&table.pipe));
        let Some(shape) = reading.polygon(place, pipe.as_deref()) else { continue };
        let main = pipe.as_deref().and_then(|pipe| known.get(pipe).copied());
        if let Some(structure) = main {
            areas.push(TiledArea { structure, shape });
        } else if pipe.is_none() || reading.drains_are_known {
            let found = pipe.map_or_else(|| "no main".to_owned(), |pipe| format!("the main {pipe:?}"));
            let hint = "correct the main's id, or add the main to a [[pipes]] layer";
            reading.problems.push(place.problem(None, found, "the id of a pipe of the case", hint));
        }
    }
    areas
}

pub(super) fn kept_depressions(reading: &mut Reading, table: &KeptDepressions) -> Vec<MultiPolygon<f64>> {
    let Some(layer) = reading.layer(&table.source, table.layer.as_deref(), &[]) else { return Vec::new() };
    layer.features.iter().filter_map(|feature| reading.polygon(FeaturePlace { layer: &layer, feature }, None)).collect()
}
