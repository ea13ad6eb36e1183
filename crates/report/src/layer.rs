//! Records as `GeoJSON` features.

use geo::Geometry;
use geojson::{Feature, FeatureCollection};
use serde::Serialize;
use serde_json::Value;

/// One feature of an output layer.
#[derive(Clone, Debug)]
pub struct Record<P> {
    /// Projected coordinates, metres; `None` where there is nothing to draw.
    pub geometry: Option<Geometry<f64>>,
    pub properties: P,
}

/// A layer of records, in their order.
pub(crate) fn layer<P: Serialize>(records: &[Record<P>]) -> FeatureCollection {
    FeatureCollection { bbox: None, features: records.iter().map(feature).collect(), foreign_members: None }
}

/// A record as a feature of its layer.
pub(crate) fn feature<P: Serialize>(record: &Record<P>) -> Feature {
    let properties = match serde_json::to_value(&record.properties) {
        Ok(Value::Object(properties)) => Some(properties),
        _ => unreachable!("properties are structs of plain values"),
    };
    Feature {
        bbox: None,
        geometry: record.geometry.as_ref().map(Into::into),
        id: None,
        properties,
        foreign_members: None,
    }
}
