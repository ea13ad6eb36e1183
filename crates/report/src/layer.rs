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
pub fn layer<P: Serialize>(records: &[Record<P>]) -> FeatureCollection {
    FeatureCollection { bbox: None, features: records.iter().map(feature).collect(), foreign_members: None }
}

fn feature<P: Serialize>(record: &Record<P>) -> Feature {
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

/// A number with at most six decimals: hectares to the square decimetre, metres to the micrometre.
pub fn rounded(value: f64) -> f64 {
    const PLACES: f64 = 1e6;
    let rounded = (value * PLACES).round() / PLACES;
    // No negative zero.
    rounded + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_rounded_without_negative_zero() {
        let check = |value: f64, expected: &str| assert_eq!(rounded(value).to_string(), expected);
        check(0.1 + 0.2, "0.3");
        check(-1e-9, "0");
        check(12.345_678_949, "12.345679");
    }
}
