//! The township's data as layers: geometries in map coordinates with their attributes.

use geo::{Geometry, Polygon};
use geojson::{Feature, FeatureCollection};
use serde_json::{Value, json};

use crate::channel::WaterwayClass;
use crate::constraints::{ConstraintArea, Utility};
use crate::parcels::{Field, Parcel};
use crate::roads::Road;
use crate::structures::{Culvert, Pipe, TiledArea};
use crate::waterways::Waterway;

pub(crate) fn parcels(parcels: &[Parcel]) -> FeatureCollection {
    collect(parcels, |parcel| {
        let attributes = json!({
            "roll": parcel.roll,
            "owner": parcel.owner,
            "co_owners": parcel.co_owners,
            "lot_con": parcel.legal,
            "use": parcel.land_use,
            "class": parcel.tax_class,
        });
        (parcel.outline.clone().into(), attributes)
    })
}

pub(crate) fn fields(fields: &[Field]) -> FeatureCollection {
    collect(fields, |field| (field.outline.clone().into(), json!({"field": field.id, "roll": field.roll})))
}

/// The waterways of some classes, in the order given.
pub(crate) fn waterways(all: &[Waterway], classes: &[WaterwayClass]) -> FeatureCollection {
    collect(all.iter().filter(|waterway| classes.contains(&waterway.class)), |waterway| {
        let attributes = json!({
            "id": waterway.id,
            "name": waterway.name,
            "kind": waterway.class.name(),
            "top_width": waterway.width_m,
            "bylaw": waterway.bylaw,
            "parties": (!waterway.members.is_empty()).then(|| waterway.members.join(";")),
            "on_title": waterway.on_title,
        });
        (waterway.lines.clone().into(), attributes)
    })
}

pub(crate) fn culverts(culverts: &[Culvert]) -> FeatureCollection {
    collect(culverts, |culvert| {
        let attributes = json!({
            "id": culvert.id,
            "road": culvert.road,
            "diameter_mm": culvert.diameter_mm,
            "material": culvert.material,
            "invert_up_m": culvert.invert_up_m,
            "invert_down_m": culvert.invert_down_m,
        });
        (culvert.line.clone().into(), attributes)
    })
}

pub(crate) fn pipes(pipes: &[Pipe]) -> FeatureCollection {
    collect(pipes, |pipe| {
        let attributes = json!({
            "id": pipe.id,
            "diameter_mm": pipe.diameter_mm,
            "grade_percent": pipe.grade_percent,
            "invert_up_m": pipe.invert_up_m,
            "invert_down_m": pipe.invert_down_m,
            "material": pipe.material,
            "class": pipe.class,
        });
        (pipe.line.clone().into(), attributes)
    })
}

pub(crate) fn tiled_areas(areas: &[TiledArea]) -> FeatureCollection {
    collect(areas, |area| (area.outline.clone().into(), json!({"main_id": area.main_id})))
}

pub(crate) fn potholes(potholes: &[Polygon]) -> FeatureCollection {
    collect(potholes, |pothole| (pothole.clone().into(), json!({"name": "Lanternhay pothole"})))
}

pub(crate) fn roads(roads: &[Road]) -> FeatureCollection {
    collect(roads, |road| {
        (road.allowance.clone().into(), json!({"id": road.id, "name": road.name, "authority": road.authority}))
    })
}

pub(crate) fn constraint_areas(areas: &[ConstraintArea]) -> FeatureCollection {
    collect(areas, |area| (area.outline.clone().into(), json!({"id": area.id, "name": area.name})))
}

pub(crate) fn utilities(utilities: &[Utility]) -> FeatureCollection {
    collect(utilities, |utility| {
        (utility.line.clone().into(), json!({"id": utility.id, "name": utility.name, "carries": utility.class}))
    })
}

fn collect<'a, T: 'a>(
    items: impl IntoIterator<Item = &'a T>,
    feature: impl Fn(&T) -> (Geometry, Value),
) -> FeatureCollection {
    let features = items.into_iter().map(|item| {
        let (geometry, attributes) = feature(item);
        let properties = attributes.as_object().cloned();
        Feature { geometry: Some((&geometry).into()), properties, ..Feature::default() }
    });
    features.collect()
}
